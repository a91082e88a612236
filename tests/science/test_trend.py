from __future__ import annotations

import itertools
import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import trend

# Sen (1968), the example of the paper, read.
SEN_X = [1, 2, 3, 4, 10, 12, 18]
SEN_Y = [9, 15, 19, 20, 45, 55, 78]


def test_the_example_of_sen() -> None:
    """The example of Sen's own paper comes out as printed."""
    slope, low, high = trend.theil_sen(SEN_X, SEN_Y, 0.93)
    assert slope == pytest.approx(4.0)
    assert low == pytest.approx(3.71, abs=0.01)
    assert high == pytest.approx(4.38, abs=0.01)
    assert trend.intercept(SEN_X, SEN_Y, slope) == pytest.approx(4.0)


def test_the_order_of_the_visits_does_not_change_the_slope() -> None:
    backwards = trend.theil_sen(SEN_X[::-1], SEN_Y[::-1], 0.93)
    assert backwards == pytest.approx(trend.theil_sen(SEN_X, SEN_Y, 0.93))


def test_dates_give_the_slope_per_day() -> None:
    days = [date(2024, 1, day) for day in SEN_X]
    assert trend.theil_sen(days, SEN_Y, 0.93)[0] == pytest.approx(4.0)


def test_too_few_values_leave_the_interval_open() -> None:
    # With four values no rank reaches 95 % on either side (Sen 1968, section 6).
    slope, low, high = trend.theil_sen([1, 2, 3, 4], [4, 3, 2, 1])
    assert slope == -1.0
    assert low == -math.inf
    assert high == math.inf
    closed = trend.theil_sen([1, 2, 3, 4, 5], [5, 4, 3, 2, 1])
    assert closed == (-1.0, -1.0, -1.0)


@given(
    st.lists(st.integers(-100, 100), min_size=5, max_size=25),
    st.integers(-5, 5),
    st.integers(-50, 50),
)
def test_a_line_added_is_a_slope_added(
    values: list[int], slope: int, start: int
) -> None:
    times = list(range(len(values)))
    tilted = [
        value + slope * time + start for time, value in zip(times, values, strict=True)
    ]
    before = trend.theil_sen(times, values)
    after = trend.theil_sen(times, tilted)
    assert after[0] == pytest.approx(before[0] + slope)
    assert before[1] <= before[0] <= before[2]


@pytest.mark.parametrize(
    ("values", "score", "one_sided"),
    [([10, 15, 14, 20], 4, 0.1667), ([5, 6, 11, 8, 10], 6, 0.1167)],
)
def test_small_examples_are_exact(
    values: list[float], score: int, one_sided: float
) -> None:
    """Small worked examples of a trend are exact."""
    # Gilbert (1987), chapter 16 and Table A18 (from memory); by listing all orders.
    count = len(values)
    tau, _, p = trend.mann_kendall(values)
    assert tau == pytest.approx(score / (count * (count - 1) / 2))
    assert trend.exact_tail(score, count) == pytest.approx(one_sided, abs=5e-5)
    assert p == pytest.approx(2 * one_sided, abs=1e-4)


@pytest.mark.parametrize(
    ("count", "score", "one_sided"), [(4, 6, 0.0417), (5, 8, 0.0417), (5, 10, 0.0083)]
)
def test_exact_chances(count: int, score: int, one_sided: float) -> None:
    """The chances of a short series are those of the printed table."""
    # Gilbert (1987), Table A18 (from memory).
    assert trend.exact_tail(score, count) == pytest.approx(one_sided, abs=5e-5)


def test_exact_chances_are_those_of_listing_every_order() -> None:
    for count in range(2, 8):
        orders = list(itertools.permutations(range(count)))
        scores = [
            sum(
                (order[later] > order[earlier]) - (order[later] < order[earlier])
                for later in range(count)
                for earlier in range(later)
            )
            for order in orders
        ]
        for score in range(-count * (count - 1) // 2, count * (count - 1) // 2 + 1):
            listed = sum(found >= score for found in scores) / len(orders)
            assert trend.exact_tail(score, count) == pytest.approx(listed)


def test_a_fall_with_a_tie() -> None:
    """A worked fall with equal values in it comes out as printed."""
    # S -19, variance 42.333 with ties, Z -2.7665, p 0.0057 (Gilbert's normal form,
    # recomputed), slope -0.6667.
    values = [9, 8, 8, 7, 6, 6, 5]
    tau, z, p = trend.mann_kendall(values)
    assert tau == pytest.approx(-19 / 21)
    assert z == pytest.approx(-2.7665, abs=5e-5)
    assert p == pytest.approx(0.0057, abs=5e-5)
    slope, _, _ = trend.theil_sen(range(7), values)
    assert slope == pytest.approx(-0.6667, abs=5e-5)


def test_no_change_is_no_trend() -> None:
    assert trend.mann_kendall([3, 3, 3, 3, 3]) == (0.0, 0.0, 1.0)
    assert trend.theil_sen([1, 2, 3, 4, 5], [3, 3, 3, 3, 3])[0] == 0.0


def test_four_values_can_never_reach_five_percent() -> None:
    for order in itertools.permutations(range(4)):
        assert trend.mann_kendall(order)[2] > 0.05


@given(st.lists(st.floats(-1e6, 1e6), min_size=3, max_size=20))
def test_turned_round_a_rise_is_a_fall(values: list[float]) -> None:
    tau, z, p = trend.mann_kendall(values)
    back = trend.mann_kendall(values[::-1])
    assert -1 <= tau <= 1
    assert 0 <= p <= 1
    assert back == pytest.approx((-tau, -z, p))


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: trend.theil_sen([1, 2], [1]), "as many"),
        (lambda: trend.theil_sen([1], [1]), "at least two"),
        (lambda: trend.theil_sen([1, 1], [1, 2]), "all the same"),
        (lambda: trend.theil_sen([1, 2], [1, math.nan]), "values"),
        (lambda: trend.theil_sen([1, 2], [1, None]), "values is None"),
        (lambda: trend.theil_sen([1, 2], [1, 2], 1.0), "confidence"),
        (lambda: trend.mann_kendall([1, 2]), "at least three"),
        (lambda: trend.mann_kendall([1, 2, math.inf]), "values"),
        (lambda: trend.exact_tail(7, 4), "score"),
        (lambda: trend.exact_tail(0, 1), "count"),
    ],
)
def test_series_without_meaning_are_refused(call, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        call()
