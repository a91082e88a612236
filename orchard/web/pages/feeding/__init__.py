"""Feeding: how much one tree gets, what it had, and what was found in leaves."""

from __future__ import annotations

from orchard.web.pages.feeding.views import (
    feeding_of_tree,
    leaf_set,
    leaf_test_correction,
    leaf_test_new,
    leaf_test_show,
    leaf_test_withdrawal,
    leaf_tests,
)

__all__ = [
    "feeding_of_tree",
    "leaf_set",
    "leaf_test_correction",
    "leaf_test_new",
    "leaf_test_show",
    "leaf_test_withdrawal",
    "leaf_tests",
]
