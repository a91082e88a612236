from __future__ import annotations

import math
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import progress


def test_the_worked_area() -> None:
    """The worked example of an area under the progress curve comes out as printed."""
    # Days 14, 21, 28 and 40, 80, 90 %: 1015 and 0.725, the worked example of the
    # statistics literature on Shaner & Finney (1977), read; numpy agrees.
    assert progress.audpc([14, 21, 28], [40, 80, 90]) == 1015
    assert progress.relative_audpc([14, 21, 28], [40, 80, 90]) == pytest.approx(0.725)


def test_dates_and_numbers_of_days_give_the_same_area_in_any_order() -> None:
    # A leap year: 28 February to 6 March is seven days.
    days = [date(2024, 2, 28), date(2024, 3, 6), date(2024, 3, 13)]
    assert progress.audpc(days, [40, 80, 90]) == 1015
    assert progress.audpc([28, 14, 21], [90, 40, 80]) == 1015


@given(
    st.lists(
        st.tuples(st.integers(0, 400), st.floats(0, 100)),
        min_size=2,
        max_size=12,
        unique_by=lambda point: point[0],
    ),
    st.randoms(),
)
def test_the_area_stays_within_all_or_nothing_whatever_the_order(points, draw) -> None:
    share = progress.relative_audpc(*zip(*points, strict=True))
    assert -1e-12 <= share <= 1 + 1e-12
    draw.shuffle(points)
    assert progress.relative_audpc(*zip(*points, strict=True)) == pytest.approx(share)


def test_the_worked_severity_index() -> None:
    """The worked example of a severity index comes out as printed."""
    # Scores 2 3 1 1 3 4 5 0 2 5 2 1 on a scale to 6 (public course notes, read):
    # 100 * 29 / 72. The top is that of the scale, not the highest seen (48.33).
    counts = [1, 3, 3, 2, 1, 2, 0]
    assert progress.severity_index(counts) == pytest.approx(40.278, abs=5e-4)
    as_mapping = dict(enumerate(counts))
    assert progress.severity_index(as_mapping) == progress.severity_index(counts)


def test_a_second_severity_index() -> None:
    """A second severity index, worked by hand, comes out the same."""
    # McKinney (1923) by hand: (5 + 6 + 3 + 4) / (20 * 4).
    assert progress.severity_index([10, 5, 3, 1, 1]) == pytest.approx(22.5)


@given(st.lists(st.integers(0, 50), min_size=2, max_size=8).filter(any))
def test_the_index_runs_from_nothing_to_the_worst(counts: list[int]) -> None:
    assert 0 <= progress.severity_index(counts) <= 100
    worst = [0] * (len(counts) - 1) + [sum(counts)]
    assert progress.severity_index(worst) == 100
    assert progress.severity_index([sum(counts)] + [0] * (len(counts) - 1)) == 0


@pytest.mark.parametrize(
    ("percent", "grade"),
    [
        (0, 0),
        (0.1, 1),
        (3.0, 1),
        (3.1, 2),
        (6, 2),
        (6.1, 3),
        (12, 3),
        (12.1, 4),
        (25, 4),
        (25.1, 5),
        (50, 5),
        (50.1, 6),
        (75, 6),
        (75.1, 7),
        (88, 7),
        (88.1, 8),
        (94, 8),
        (94.1, 9),
        (97, 9),
        (97.1, 10),
        (99.9, 10),
        (100, 11),
    ],
)
def test_grades_of_horsfall_and_barratt(percent: float, grade: int) -> None:
    """Shares fall into the grades that Horsfall and Barratt printed."""
    # Horsfall & Barratt (1945), read at second hand.
    assert progress.horsfall_barratt_grade(percent) == grade


def test_midpoints_of_horsfall_and_barratt() -> None:
    """Each grade of Horsfall and Barratt has its printed midpoint."""
    printed = [0, 1.5, 4.5, 9, 18.5, 37.5, 62.5, 81.5, 91, 95.5, 98.5, 100]
    for grade, midpoint in enumerate(printed):
        assert progress.horsfall_barratt_midpoint(grade) == midpoint
        assert progress.horsfall_barratt_grade(midpoint) == grade


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: progress.audpc([1], [5]), "at least two"),
        (lambda: progress.audpc([], []), "at least two"),
        (lambda: progress.audpc([1, 2], [5]), "as many"),
        (lambda: progress.audpc([1, 1], [5, 6]), "one day twice"),
        (lambda: progress.audpc([1, 2], [5, 101]), "values"),
        (lambda: progress.audpc([1, 2], [5, math.nan]), "values"),
        (lambda: progress.audpc([1, 2], [5, None]), "values is None"),
        (lambda: progress.audpc([1, math.inf], [5, 6]), "dates"),
        (
            lambda: progress.audpc([datetime(2024, 1, 1, tzinfo=UTC)] * 2, [5, 6]),
            "dates",
        ),
        (lambda: progress.severity_index([0, 0]), "counts no unit"),
        (lambda: progress.severity_index([5]), "no grade above 0"),
        (lambda: progress.severity_index([]), "no grade above 0"),
        (lambda: progress.severity_index([1, -1]), "grade 1"),
        (lambda: progress.severity_index([1, 1.5]), "whole number"),
        (lambda: progress.horsfall_barratt_grade(100.1), "percent"),
        (lambda: progress.horsfall_barratt_midpoint(12), "grade"),
    ],
)
def test_ratings_without_meaning_are_refused(call, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        call()
