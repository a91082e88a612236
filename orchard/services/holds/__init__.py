"""Holds: why nothing may be picked from a tree, or leave it, and until when."""

from __future__ import annotations

from orchard.services.holds.after_frost import (
    check_cut_test,
    cut_test_words,
    cut_tests,
)
from orchard.services.holds.after_treatment import (
    After,
    after_treatments,
    entry_words,
    harvest_words,
    moment_words,
    openings_of,
)
from orchard.services.holds.by_tree import (
    holds_of,
    reasons_for,
    with_holds,
)
from orchard.services.holds.open_case import LeftAlone, leave_alone
from orchard.services.holds.places import (
    ClosedTrees,
    SketchBlock,
    closed_alike,
    closed_to,
    sketch_of,
)
from orchard.services.holds.shapes import TreeHold

__all__ = [
    "After",
    "ClosedTrees",
    "LeftAlone",
    "SketchBlock",
    "TreeHold",
    "after_treatments",
    "closed_alike",
    "closed_to",
    "entry_words",
    "harvest_words",
    "moment_words",
    "openings_of",
    "check_cut_test",
    "cut_test_words",
    "cut_tests",
    "holds_of",
    "leave_alone",
    "reasons_for",
    "sketch_of",
    "with_holds",
]
