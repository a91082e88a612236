"""Holds: why nothing may be picked from a tree, or leave it, and until when."""

from __future__ import annotations

from orchard.services.holds.after_frost import (
    check_cut_test,
    cut_test_words,
    cut_tests,
)
from orchard.services.holds.by_tree import holds_of
from orchard.services.holds.shapes import Forbidden, HoldKind, TreeHold

__all__ = [
    "Forbidden",
    "TreeHold",
    "HoldKind",
    "check_cut_test",
    "cut_test_words",
    "cut_tests",
    "holds_of",
]
