"""Holds: why nothing may be picked from a tree, or leave it, and until when."""

from __future__ import annotations

from orchard.services.holds.after_frost import (
    check_cut_test,
    cut_test_words,
    cut_tests,
    fruit_holds,
)
from orchard.services.holds.open_case import trees_nothing_leaves

__all__ = [
    "check_cut_test",
    "cut_test_words",
    "cut_tests",
    "fruit_holds",
    "trees_nothing_leaves",
]
