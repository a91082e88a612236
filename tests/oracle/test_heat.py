from __future__ import annotations

import math
import random
from datetime import date, timedelta

import pytest

from orchard.science import heat

pytestmark = pytest.mark.oracle
integrate = pytest.importorskip("scipy.integrate")


def test_a_thousand_days_match_numerical_integration_of_the_sine() -> None:
    # scipy integrate.quad of max(min(T, upper) - lower, 0) over half a wave.
    draw = random.Random(1969)
    for _ in range(1000):
        tmin = draw.uniform(-10, 35)
        tmax = tmin + draw.uniform(0, 25)
        lower = draw.uniform(5, 20)
        upper = lower + draw.uniform(1, 25)
        mean, amplitude = (tmax + tmin) / 2, (tmax - tmin) / 2

        def above(angle: float, cap: float) -> float:
            return max(min(mean + amplitude * math.sin(angle), cap) - lower, 0.0)  # noqa: B023

        kinks = [
            math.asin((edge - mean) / amplitude)
            for edge in (lower, upper)
            if amplitude and abs(edge - mean) < amplitude
        ]
        for cap, given in ((upper, upper), (math.inf, None)):
            area, _ = integrate.quad(
                above, -math.pi / 2, math.pi / 2, args=(cap,), points=kinks or None
            )
            assert heat.degree_days(tmin, tmax, lower, given) == pytest.approx(
                area / math.pi, abs=1e-7
            )


def test_two_hundred_pairs_of_thresholds_match_numpy_day_by_day() -> None:
    # The same law written for whole columns of numbers: numpy arcsin.
    np = pytest.importorskip("numpy")
    draw = random.Random(200)
    lows = np.array([draw.uniform(-5, 28) for _ in range(800)])
    highs = lows + np.array([draw.uniform(0, 22) for _ in range(800)])
    middle, half = (lows + highs) / 2, (highs - lows) / 2

    def above(threshold):
        angle = np.arcsin(np.clip((threshold - middle) / half, -1, 1))
        cut = (middle - threshold) * (np.pi / 2 - angle) + half * np.cos(angle)
        whole = np.where(lows >= threshold, middle - threshold, cut / np.pi)
        return np.where(highs <= threshold, 0.0, whole)

    first = date(2020, 1, 1)
    days = [
        (first + timedelta(days=place), float(low), float(high))
        for place, (low, high) in enumerate(zip(lows, highs, strict=True))
    ]
    for _ in range(200):
        lower, upper = draw.uniform(8, 16), draw.uniform(30, 40)
        found = np.array([units for _, units in heat.Sums(days, lower, upper).units])
        assert np.allclose(found, above(lower) - above(upper), rtol=0, atol=1e-9)
