"""Rules and figures told to people: in words, months and their own units."""

from __future__ import annotations

from orchard.web.explain.formulas import FORMULAS_FILE, anchor_of, chapters
from orchard.web.explain.gathering import formulas_text
from orchard.web.explain.rules import (
    RuleLine,
    condition_word,
    first_sentence,
    joined,
    limit_text,
    month_name,
    months_text,
    part_word,
    rule_lines,
    rule_text,
    shown_number,
    shown_unit,
    status_word,
    stored_number,
)

__all__ = [
    "FORMULAS_FILE",
    "RuleLine",
    "anchor_of",
    "chapters",
    "condition_word",
    "first_sentence",
    "formulas_text",
    "joined",
    "limit_text",
    "month_name",
    "months_text",
    "part_word",
    "rule_lines",
    "shown_number",
    "status_word",
    "stored_number",
    "shown_unit",
    "rule_text",
]
