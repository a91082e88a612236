"""Quantities in sentences."""

from __future__ import annotations

import pytest

from orchard.services.quantities import in_words, span_words


@pytest.mark.parametrize(
    ("value", "text"),
    [(2.0, "two"), (9, "nine"), (10.0, "10"), (2.5, "2.5"), (0, "0"), (-2.0, "-2")],
)
def test_small_whole_numbers_are_words(value, text):
    assert in_words(value) == text


@pytest.mark.parametrize(
    ("days", "text"),
    [
        (14.0, "two weeks"),
        (7, "one week"),
        (70, "10 weeks"),
        (10, "10 days"),
        (1, "one day"),
        (1.5, "1.5 days"),
        (0, "0 days"),
    ],
)
def test_how_long_something_lasts_is_in_weeks_where_they_are_whole(days, text):
    assert span_words(days) == text
