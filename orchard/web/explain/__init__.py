"""Rules and figures told to people: in words, months and their own units."""

from __future__ import annotations

from orchard.web.explain.formulas import (
    FORMULAS_FILE,
    anchor_of,
    explained,
)
from orchard.web.explain.gathering import formulas_text
from orchard.web.explain.rules import (
    RuleLine,
    condition_word,
    first_sentence,
    joined,
    month_name,
    months_text,
    part_word,
    rule_lines,
    sentences,
    shown_number,
    shown_unit,
    status_word,
    stored_number,
    wording_for,
)

__all__ = [
    "FORMULAS_FILE",
    "RuleLine",
    "anchor_of",
    "condition_word",
    "explained",
    "first_sentence",
    "formulas_text",
    "joined",
    "month_name",
    "months_text",
    "part_word",
    "rule_lines",
    "sentences",
    "shown_number",
    "status_word",
    "stored_number",
    "shown_unit",
    "wording_for",
]
