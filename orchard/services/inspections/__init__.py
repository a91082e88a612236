"""Inspections: submitted, judged, recorded, corrected, moved, looked at again."""

from __future__ import annotations

from orchard.services.inspections.correction import (
    correct,
    earlier_version,
    later_version,
    override,
    withdraw,
)
from orchard.services.inspections.judgement import (
    Judged,
    outcomes,
    problem_with,
    sign_for,
)
from orchard.services.inspections.lists import Period, last_trees, list_inspections
from orchard.services.inspections.move_to_tree import Moved, move_inspection, neighbours
from orchard.services.inspections.recording import (
    Logged,
    TreeLook,
    record,
    submit,
    submit_all,
    told_as_done,
)
from orchard.services.inspections.second_opinions import (
    answer_second_look,
    answers_for,
    asked_by,
    open_second_looks,
    second_looks_of,
)
from orchard.services.inspections.submission import (
    Arrival,
    Look,
    SeenSign,
    Submission,
    faults_of,
    look_of,
    why_closed,
)

__all__ = [
    "Arrival",
    "Judged",
    "Logged",
    "Look",
    "Moved",
    "Period",
    "SeenSign",
    "Submission",
    "TreeLook",
    "answer_second_look",
    "answers_for",
    "asked_by",
    "correct",
    "earlier_version",
    "faults_of",
    "last_trees",
    "later_version",
    "list_inspections",
    "look_of",
    "move_inspection",
    "neighbours",
    "open_second_looks",
    "outcomes",
    "override",
    "problem_with",
    "record",
    "second_looks_of",
    "sign_for",
    "submit",
    "submit_all",
    "told_as_done",
    "why_closed",
    "withdraw",
]
