"""Rules and figures told to people: in words, months and their own units."""

from __future__ import annotations

from orchard.web.explain.formulas import FORMULAS_FILE, anchor_of, chapters
from orchard.web.explain.gathering import formulas_text
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
    "FORMULAS_FILE",
    "Told",
    "anchor_of",
    "chapters",
    "condition_word",
    "first_sentence",
    "formulas_text",
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
