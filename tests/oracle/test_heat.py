from __future__ import annotations

import math
import random

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
