"""Codes of trees in a sentence: the first of them, and how many more there are."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import ngettext

MOST_CODES = 12


def codes_text(codes: Sequence[str]) -> str:
    """Write some codes, and how many more there are."""
    shown = ", ".join(codes[:MOST_CODES])
    more = len(codes) - MOST_CODES
    if more <= 0:
        return shown
    text = ngettext("%(codes)s and %(more)d more", "%(codes)s and %(more)d more", more)
    return text % {"codes": shown, "more": more}
