from __future__ import annotations

import math
import random

import pytest

from orchard.science import trend

pytestmark = pytest.mark.oracle
stats = pytest.importorskip("scipy.stats")
mann_kendall = pytest.importorskip("pymannkendall")


def series(draw: random.Random, fewest: int) -> list[float]:
    count = draw.randrange(fewest, 40)
    slope = draw.uniform(-1, 1)
    if draw.random() < 0.5:  # whole grades, so with ties
        return [
            float(round(slope * index + draw.gauss(0, 2))) for index in range(count)
        ]
    return [slope * index + draw.gauss(0, 2) for index in range(count)]


def test_a_thousand_slopes_match() -> None:
    # scipy stats.theilslopes, which cuts an open interval at the outermost slope.
    draw = random.Random(1968)
    closed = 0
    for _ in range(1000):
        values = series(draw, 3)
        times = sorted(draw.sample(range(400), len(values)))
        confidence = draw.choice([0.9, 0.95, 0.99])
        expected = stats.theilslopes(values, times, confidence)
        slope, low, high = trend.theil_sen(times, values, confidence)
        assert slope == pytest.approx(expected[0], abs=1e-9)
        if math.isfinite(low) and math.isfinite(high):
            closed += 1
            assert low == pytest.approx(expected[2], abs=1e-9)
            assert high == pytest.approx(expected[3], abs=1e-9)
    assert closed > 900


def test_a_thousand_series_match_the_normal_form() -> None:
    # pymannkendall original_test; ten values or more, or ties.
    draw = random.Random(1987)
    for _ in range(1000):
        values = series(draw, 10)
        expected = mann_kendall.original_test(values)
        tau, z, p = trend.mann_kendall(values)
        assert tau == pytest.approx(expected.Tau, abs=1e-9)
        assert z == pytest.approx(expected.z, abs=1e-9)
        assert p == pytest.approx(expected.p, abs=1e-9)


def test_a_thousand_short_series_match_the_exact_test() -> None:
    # scipy stats.kendalltau, method exact, two-sided.
    draw = random.Random(18)
    for _ in range(1000):
        values = [draw.gauss(0, 1) for _ in range(draw.randrange(3, 10))]
        expected = stats.kendalltau(range(len(values)), values, method="exact")
        tau, _, p = trend.mann_kendall(values)
        assert tau == pytest.approx(expected.statistic, abs=1e-9)
        assert p == pytest.approx(expected.pvalue, abs=1e-9)
