"""A year of real days, from a file of another's making to heat and water.

The file: NOAA daily records of 2012 to 2015 (public domain) as shipped by the package
vega_datasets (MIT licence). Held against pandas (sums as the file has them), scipy
(the area under the sine) and refet (the ASCE standard evapotranspiration).
"""

from __future__ import annotations

import importlib.util
import math
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path

import pytest

from orchard.science import heat
from orchard.science.weather import radiation, reference_et, saturation_vapour_pressure
from orchard.services import weather
from orchard.services.imports import sheets, weather_files
from orchard.services.imports.weather_files import WeatherChoices, saving
from orchard.services.weather import Day, series

pytestmark = [pytest.mark.oracle, pytest.mark.django_db]
refet = pytest.importorskip("refet")
pandas = pytest.importorskip("pandas")
integrate = pytest.importorskip("scipy.integrate")

NOW = datetime(2016, 1, 2, 9, tzinfo=UTC)
TODAY = date(2016, 1, 2)
LATITUDE, ELEVATION = 47.4, 122
BASE, CAP = 13.0, 35.0
FIRST, LAST = date(2012, 1, 1), date(2015, 12, 31)
YEAR_FIRST, YEAR_LAST = date(2014, 1, 1), date(2014, 12, 31)


@pytest.fixture
def path():
    found = importlib.util.find_spec("vega_datasets")
    if found is None or found.origin is None:
        pytest.skip("vega_datasets is not installed")
    return Path(found.origin).parent / "_data" / "seattle-weather.csv"


@pytest.fixture
def theirs(path):
    """Read the file as pandas does, for the year that is looked at."""
    frame = pandas.read_csv(path, parse_dates=["date"])
    return frame[frame["date"].dt.year == 2014]


@pytest.fixture
def days(orchard, cora, path):
    """Take the file in, and give the year as the book has it."""
    station = saving.add_station(
        orchard, by=cora, now=NOW, name="Airport", source="NOAA, public domain"
    )
    with path.open("rb") as file:
        sheet = sheets.read_sheet(
            file,
            path.name,
            most_rows=weather_files.MOST_ROWS,
            recognise=partial(
                weather_files.count_recognised, fields=weather_files.DAYS
            ),
        )
    looked = weather_files.preview(orchard, sheet, station=station, today=TODAY)
    taken_for = {column.heading: column.field for column in looked.columns}
    assert taken_for == {
        "date": "on",
        "precipitation": "rain_mm",
        "temp_max": "tmax",
        "temp_min": "tmin",
        "wind": "wind_10m",
        "weather": "",
    }
    # °C and mm are told by the values; nothing tells the unit of wind, so it is asked.
    assert {c.field: c.unit for c in looked.columns if c.units} == {
        "rain_mm": "mm",
        "tmax": "°C",
        "tmin": "°C",
        "wind_10m": "",
    }
    assert len(looked.problems) == 1
    choices = WeatherChoices(units={"wind_10m": "m/s"})

    def take():
        return weather_files.import_days(
            orchard,
            sheet,
            station=station,
            by=cora,
            now=NOW,
            today=TODAY,
            choices=choices,
        )

    assert (take().new, take().new) == ((LAST - FIRST).days + 1, 0)
    return weather.span(orchard, YEAR_FIRST, YEAR_LAST)


def test_a_year_of_real_days_comes_out_as_it_went_in(days, theirs):
    assert all(isinstance(day, Day) for day in days)
    assert len(days) == len(theirs) == 365
    assert math.fsum(day.rain_mm for day in days) == pytest.approx(
        theirs["precipitation"].sum()
    )
    assert [day.tmin for day in days] == pytest.approx(list(theirs["temp_min"]))
    assert [day.tmax for day in days] == pytest.approx(list(theirs["temp_max"]))
    assert series.gaps(days, "tmin", "tmax", "rain_mm", "wind_2m") == ()


def test_its_heat_units_are_the_area_under_the_sine(days, theirs):
    total = 0.0
    for row in theirs.itertuples():
        mean = (row.temp_max + row.temp_min) / 2
        half = (row.temp_max - row.temp_min) / 2

        def above(angle: float) -> float:
            warm = min(mean + half * math.sin(angle), CAP)  # noqa: B023
            return max(warm - BASE, 0.0)

        kinks = [
            math.asin((edge - mean) / half)
            for edge in (BASE, CAP)
            if half and abs(edge - mean) < half
        ]
        area, _ = integrate.quad(
            above, -math.pi / 2, math.pi / 2, points=kinks or None, limit=200
        )
        total += area / math.pi
    sums = heat.accumulate(weather.unbroken(days), BASE, CAP)
    assert len(sums) == 365
    assert sums[-1][1] == pytest.approx(total, abs=1e-4)
    assert total > 300


def test_its_water_is_the_standard_evapotranspiration(days, theirs):
    """Each day's evapotranspiration is what the reference library gives."""
    found, expected = [], []
    for day, row in zip(days, theirs.itertuples(), strict=True):
        reference = reference_et(
            day.on, LATITUDE, ELEVATION, day.tmin, day.tmax, wind_2m=day.wind_2m
        )
        assert reference.estimated == ("vapour pressure", "solar radiation")
        found.append(reference.mm)
        # The same two estimates given to refet, its own wind profile from 10 m.
        daily = refet.Daily(
            tmin=row.temp_min,
            tmax=row.temp_max,
            ea=saturation_vapour_pressure(row.temp_min),
            rs=reference.solar,
            uz=row.wind,
            zw=10,
            elev=ELEVATION,
            lat=LATITUDE,
            doy=radiation.day_of_year(day.on),
            method="asce",
        )
        expected.append(max(float(daily.eto()[0]), 0.0))
    assert found == pytest.approx(expected, abs=0.05)
    assert math.fsum(found) == pytest.approx(math.fsum(expected), rel=0.005)
    # A year at 47° N by an ocean: some 600 to 1100 mm.
    assert 600 < math.fsum(found) < 1100
