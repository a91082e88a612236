"""Where a tree's condition is going: told only where chance would hardly show it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.services.timeline import Direction, Score, condition_trend
from tests.conftest import TODAY


def scores_of(values, *, days=30) -> list[Score]:
    first = TODAY - timedelta(days=days * (len(values) - 1))
    return [
        Score(first + timedelta(days=days * place), value, place)
        for place, value in enumerate(values)
    ]


@pytest.mark.parametrize(
    ("values", "direction"),
    [
        ([], Direction.UNKNOWN),
        ([5, 4, 3, 2], Direction.UNKNOWN),
        ([5, 4, 3, 2, 1], Direction.WORSE),
        ([1, 2, 3, 4, 5], Direction.BETTER),
        ([3, 3, 3, 3, 3, 3], Direction.NONE),
        ([4, 3, 4, 3, 4, 3, 4], Direction.NONE),
        ([5, 5, 5, 4, 4, 4, 4, 3, 3, 3, 2, 2], Direction.WORSE),
    ],
)
def test_a_direction_is_told_where_there_is_one(values, direction):
    assert condition_trend(scores_of(values)).direction is direction


@pytest.mark.oracle
@pytest.mark.parametrize(
    "values",
    [[5, 5, 5, 4, 4, 4, 4, 3, 3, 3, 2, 2], [2, 3, 2, 3, 3, 4, 3, 4, 4, 5, 4, 5]],
)
def test_it_is_what_reference_libraries_find(values):
    """Mann-Kendall of pymannkendall 1.4 and the slope of Theil-Sen of scipy."""
    mann_kendall = pytest.importorskip("pymannkendall")
    stats = pytest.importorskip("scipy.stats")
    scores = scores_of(values)
    found = condition_trend(scores)
    said = {Direction.WORSE: "decreasing", Direction.BETTER: "increasing"}
    test = mann_kendall.original_test(values)
    assert said[found.direction] == test.trend
    slope = stats.theilslopes(values, [score.on.toordinal() for score in scores]).slope
    assert found.steps_a_year == pytest.approx(slope * 365.25)


def test_what_lies_more_than_two_years_back_does_not_count():
    long_ago = [
        Score(TODAY - timedelta(days=1500 + 30 * place), 1, place)
        for place in range(20, 0, -1)
    ]
    found = condition_trend([*long_ago, *scores_of([5, 4, 4, 3, 3, 2, 2])])
    assert found.direction is Direction.WORSE
    assert found.scores == 7
    assert found.since == TODAY - timedelta(days=180)


def test_scores_of_one_day_have_no_direction():
    scores = [Score(TODAY, value, value) for value in (5, 4, 3, 2, 1)]
    assert condition_trend(scores).direction is Direction.UNKNOWN
