"""A stored quantity, written in a sentence as an orchard reads it."""

from __future__ import annotations

import math

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.science.units import shown


def quantity(value: float, unit: str, system: str) -> str:
    """Write a value that is stored in `unit` with its unit in an orchard's system."""
    figure, own_unit = shown(value, unit, system)
    return f"{number_text(figure)} {own_unit}".strip()


def quantity_range(low: float, high: float, unit: str, system: str) -> str:
    """Write the two ends between which a value may lie: "-90 to 60 °C"."""
    least, _unit = shown(low, unit, system)
    return f"{number_text(least)} to {quantity(high, unit, system)}"


def in_words(value: float) -> str:
    """Write a small whole number as a word, as a sentence has it, else in digits."""
    words: dict[float, str] = {
        1: _("one"), 2: _("two"), 3: _("three"), 4: _("four"), 5: _("five"),
        6: _("six"), 7: _("seven"), 8: _("eight"), 9: _("nine"),
    }  # fmt: skip
    return words.get(value) or number_text(value)


def span_words(days: float) -> str:
    """Write how long something lasts: "two weeks", or "10 days" where none is whole."""
    weeks, rest = divmod(days, 7)
    if rest or not weeks:
        text = ngettext("%(count)s day", "%(count)s days", math.ceil(days))
        return text % {"count": in_words(days)}
    text = ngettext("%(count)s week", "%(count)s weeks", int(weeks))
    return text % {"count": in_words(weeks)}


def number_text(value: float) -> str:
    """Write a number with at most two decimals, and none that say nothing."""
    rounded = round(value, 2)
    if rounded == int(rounded):
        return str(number_format(int(rounded), force_grouping=abs(rounded) >= 10_000))
    return str(number_format(rounded))
