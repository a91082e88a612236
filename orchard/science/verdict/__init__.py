"""The verdict on a finding: decide it, or all outcomes of a form beforehand."""

from __future__ import annotations

from orchard.science.verdict.answers import (
    Choice,
    OpenFact,
    answer_key,
    facts_for,
    open_facts,
    outcomes,
)
from orchard.science.verdict.facts import (
    NotJudged,
    UnlistedSpecies,
    codes_of,
    question_about,
)
from orchard.science.verdict.judging import (
    NOTHING_LEAVES,
    Judgement,
    RuleSet,
    decide,
    headline,
    in_short,
)
from orchard.science.verdict.packing import compact
from orchard.science.verdict.steps import (
    AUTHORITY_WAITS,
    VerdictStep,
    steps_for,
    the_work,
)
from orchard.science.verdict.words import (
    STATUSES,
    Wording,
    due_text,
    join_words,
    limit_text,
    rule_sentence,
    rule_text,
)

__all__ = [
    "AUTHORITY_WAITS",
    "NOTHING_LEAVES",
    "STATUSES",
    "Choice",
    "RuleSet",
    "Judgement",
    "NotJudged",
    "OpenFact",
    "UnlistedSpecies",
    "VerdictStep",
    "Wording",
    "answer_key",
    "codes_of",
    "compact",
    "decide",
    "due_text",
    "facts_for",
    "headline",
    "in_short",
    "join_words",
    "limit_text",
    "open_facts",
    "outcomes",
    "question_about",
    "rule_sentence",
    "rule_text",
    "steps_for",
    "the_work",
]
