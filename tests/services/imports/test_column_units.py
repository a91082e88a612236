"""The unit of a column told by its values, by figures of the guide."""

from __future__ import annotations

import pytest

from orchard.services.imports.weather_files import column_units

YEAR = [4.0, 12.0, 30.0] * 100


@pytest.mark.parametrize(
    ("values", "unit"),
    [
        ([273.0, 300.0], "K"),
        ([210.0, 341.0], "0.1 °C"),
        ([-91.0, 100.0], "0.1 °C"),
        ([20.0, 141.0], "0.1 °C"),
        ([20.0, 58.0], "°F"),
        (YEAR, "°C"),
        (YEAR[:-1], ""),
    ],
)
def test_degrees(values, unit):
    assert column_units.temperature(values) == unit


def test_rain_sunshine_and_sunlight():
    assert [column_units.rain([most]) for most in (12, 12.1, 2000, 2001)] == [
        "", "mm", "mm", "",
    ]  # fmt: skip
    assert column_units.hours([8.0] * 30) == "h"
    assert column_units.hours([8.0] * 29) == ""
    assert column_units.hours([25.0]) == "min"
    assert [column_units.sunlight([most]) for most in (12, 12.1, 60, 60.1)] == [
        "", "MJ/m²", "MJ/m²", "W/m²",
    ]  # fmt: skip


def test_they_follow_the_figures(set_figure):
    set_figure(unit_year_f=30, unit_kelvin_to=400, unit_sun_rows=10)
    assert column_units.temperature(YEAR) == ""
    assert column_units.temperature([210.0, 341.0]) == "K"
    assert column_units.hours([8.0] * 10) == "h"


def test_us_units_are_read_by_the_one_table_of_units():
    # Exact: 212 °F are 100 °C, an inch is 25.4 mm, a mile an hour 0.44704 m/s.
    assert column_units.TEMPERATURE["°F"](212.0) == pytest.approx(100.0)
    assert column_units.RAIN["in"](1.0) == pytest.approx(25.4)
    assert column_units.SPEED["mph"](1.0) == pytest.approx(0.44704)
