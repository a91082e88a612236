from __future__ import annotations

import random
from datetime import date, timedelta

import pytest

from orchard.science import weather
from orchard.science.weather import air, radiation

pytestmark = pytest.mark.oracle
refet = pytest.importorskip("refet")


def test_a_thousand_days_match_the_asce_reference_library() -> None:
    """A thousand days match the reference library by the ASCE equation."""
    # refet.Daily, method "asce": the same equation 6.
    draw = random.Random(1998)
    for _ in range(1000):
        day = date(2001, 1, 1) + timedelta(days=draw.randrange(365))
        latitude = draw.uniform(-45, 45)
        elevation = draw.uniform(0, 2500)
        tmin = draw.uniform(-2, 25)
        tmax = tmin + draw.uniform(3, 20)
        wind = draw.uniform(0.3, 6)
        vapour = draw.uniform(0.3, 1.0) * weather.saturation_vapour_pressure(tmin)
        clear = radiation.clear_sky(
            elevation, weather.extraterrestrial_radiation(day, latitude)
        )
        solar = draw.uniform(0.1, 1.0) * clear
        expected = refet.Daily(
            tmin=tmin,
            tmax=tmax,
            ea=vapour,
            rs=solar,
            uz=wind,
            zw=2,
            elev=elevation,
            lat=latitude,
            doy=radiation.day_of_year(day),
            method="asce",
        ).eto()
        found = weather.reference_et(
            day,
            latitude,
            elevation,
            tmin,
            tmax,
            ea=vapour,
            wind_2m=wind,
            solar=solar,
        )
        assert found.mm == pytest.approx(max(float(expected[0]), 0.0), abs=0.03)


def test_a_thousand_days_of_radiation_match() -> None:
    calcs = pytest.importorskip("refet.calcs")
    numpy = pytest.importorskip("numpy")
    draw = random.Random(56)
    for _ in range(1000):
        day = date(2001, 1, 1) + timedelta(days=draw.randrange(365))
        latitude = draw.uniform(-55, 55)
        expected = calcs.ra_daily(
            lat=numpy.radians([latitude]),
            doy=numpy.array([radiation.day_of_year(day)]),
            method="asce",
        )
        found = weather.extraterrestrial_radiation(day, latitude)
        assert found == pytest.approx(float(expected[0]), abs=0.02)


def test_a_thousand_vapour_pressures_match() -> None:
    calcs = pytest.importorskip("refet.calcs")
    numpy = pytest.importorskip("numpy")
    draw = random.Random(11)
    for _ in range(1000):
        celsius = draw.uniform(-20, 45)
        expected = calcs.sat_vapor_pressure(numpy.array([celsius]))
        assert air.saturated(celsius) == pytest.approx(float(expected[0]), rel=1e-9)
