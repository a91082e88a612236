"""Practice: telling signs apart, asked and answered; a person's progress is theirs."""

from __future__ import annotations

from orchard.services.practice.answering import answer
from orchard.services.practice.mix_ups import MixUp, mix_ups
from orchard.services.practice.questions import (
    PracticeQuestion,
    Progress,
    TakenQuestion,
    next_question,
    progress_of,
    questions_to_take,
    told_apart_by,
)

__all__ = [
    "MixUp",
    "Progress",
    "PracticeQuestion",
    "TakenQuestion",
    "answer",
    "mix_ups",
    "next_question",
    "progress_of",
    "questions_to_take",
    "told_apart_by",
]
