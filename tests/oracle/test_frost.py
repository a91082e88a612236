from __future__ import annotations

import random

import pytest

from orchard.science import frost, weather
from orchard.science.weather import air

pytestmark = pytest.mark.oracle
regression = pytest.importorskip("statsmodels.regression.linear_model")
numpy = pytest.importorskip("numpy")
optimize = pytest.importorskip("scipy.optimize")


def ordinary(xs, ys):
    design = numpy.column_stack([numpy.ones(len(xs)), xs])
    return regression.OLS(numpy.array(ys), design).fit().params


def test_a_thousand_orchards_match_two_ordinary_regressions() -> None:
    # statsmodels OLS: the minimum on the evening, then the residual on the dew point.
    draw = random.Random(10)
    for _ in range(1000):
        nights = []
        for _ in range(draw.randrange(4, 25)):
            evening = draw.uniform(-3, 10)
            dew = evening - draw.uniform(0, 12)
            nights.append((evening, dew, evening - draw.uniform(2, 9)))
        evenings, dews, minima = (numpy.array(column) for column in zip(*nights))  # noqa: B905
        first = ordinary(evenings, minima)
        left = minima - first[0] - first[1] * evenings
        second = ordinary(dews, left)
        found = frost.fit_night_minimum(nights)
        assert found.base == pytest.approx(first[0] + second[0], abs=1e-7)
        assert found.air == pytest.approx(first[1], abs=1e-7)
        assert found.dew == pytest.approx(second[1], abs=1e-7)


def test_a_thousand_wet_bulbs_match_a_root_finder() -> None:
    # scipy brentq on the psychrometer equation (FAO-56 equation 15).
    draw = random.Random(15)
    for _ in range(1000):
        celsius, humidity = draw.uniform(-10, 40), draw.uniform(1, 100)
        pressure = draw.uniform(80, 103)
        held = humidity / 100 * weather.saturation_vapour_pressure(celsius)

        def miss(wet: float) -> float:
            return air.saturated(wet) - 0.000662 * pressure * (celsius - wet) - held  # noqa: B023

        expected = optimize.brentq(miss, -60, celsius + 1e-9, xtol=1e-11)
        found = weather.wet_bulb(celsius, humidity, pressure)
        assert found == pytest.approx(expected, abs=1e-7)
