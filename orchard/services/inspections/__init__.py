"""Inspections: submitted, judged, recorded, corrected, moved, looked at again."""

from __future__ import annotations

from orchard.services.inspections.correction import correct, override, withdraw
from orchard.services.inspections.judgement import Judged, outcomes, sign_for
from orchard.services.inspections.move_to_tree import Moved, move_inspection, neighbours
from orchard.services.inspections.recording import Logged, record
from orchard.services.inspections.second_opinions import (
    answer_second_look,
    open_second_looks,
)
from orchard.services.inspections.submission import (
    Arrival,
    Look,
    SeenSign,
    check_tree,
    look_of,
)

__all__ = [
    "Arrival",
    "Judged",
    "Logged",
    "Look",
    "Moved",
    "SeenSign",
    "answer_second_look",
    "check_tree",
    "correct",
    "look_of",
    "move_inspection",
    "neighbours",
    "open_second_looks",
    "outcomes",
    "override",
    "record",
    "sign_for",
    "withdraw",
]
