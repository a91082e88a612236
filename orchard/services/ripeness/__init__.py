"""Ripeness: fruit tested, and what is ready to pick."""

from __future__ import annotations

from orchard.services.ripeness.season import (
    KindRipeness,
    ripeness_of_kinds,
    trees_left_alone,
    trees_not_tasted,
)
from orchard.services.ripeness.tests import (
    correct_test,
    is_judged_by_colour,
    kinds_to_test,
    note_and_open,
    note_test,
    note_tests,
    withdraw_test,
)

__all__ = [
    "KindRipeness",
    "correct_test",
    "is_judged_by_colour",
    "kinds_to_test",
    "note_and_open",
    "note_test",
    "note_tests",
    "ripeness_of_kinds",
    "trees_left_alone",
    "trees_not_tasted",
    "withdraw_test",
]
