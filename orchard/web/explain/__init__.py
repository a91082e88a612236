"""Rules and figures told to people: in words, months and their own units."""

from __future__ import annotations

from orchard.web.explain.computed import anchor_of, chapters
from orchard.web.explain.rules import (
    Told,
    condition_word,
    first_sentence,
    joined,
    limit_said,
    month_now,
    months_said,
    part_word,
    rules_said,
    shown_number,
    status_word,
    stored_number,
    unit_shown,
    when_said,
)

__all__ = [
    "Told",
    "anchor_of",
    "chapters",
    "condition_word",
    "first_sentence",
    "joined",
    "limit_said",
    "month_now",
    "months_said",
    "part_word",
    "rules_said",
    "shown_number",
    "status_word",
    "stored_number",
    "unit_shown",
    "when_said",
]
