"""Feeding: the nitrogen of a year for one tree, and what was found in leaves."""

from __future__ import annotations

from orchard.services.feeding.advice import FeedingAdvice, ProductDose, advice_for
from orchard.services.feeding.leaf_tests import (
    NutrientReading,
    SamplingTime,
    choose_leaf_set,
    content_text,
    correct_leaf_test,
    leaf_test_words,
    leaf_tests_for,
    leaf_tests_of,
    nutrient_readings,
    record_leaf_test,
    sampling_tasks,
    sampling_time,
    withdraw_leaf_test,
)

__all__ = [
    "FeedingAdvice",
    "NutrientReading",
    "ProductDose",
    "SamplingTime",
    "advice_for",
    "choose_leaf_set",
    "content_text",
    "correct_leaf_test",
    "leaf_test_words",
    "leaf_tests_for",
    "leaf_tests_of",
    "nutrient_readings",
    "record_leaf_test",
    "sampling_tasks",
    "sampling_time",
    "withdraw_leaf_test",
]
