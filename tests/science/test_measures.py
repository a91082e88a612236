"""Conversions held against the defining figures of the US customary units."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science.measures import US_UNITS, shown, stored

# From memory: NIST Special Publication 811 (2008), appendix B.8 gives the factors
# from the US unit to SI, exact ones in full, the others to seven figures.
NIST = [
    ("in", "mm", 25.4),
    ("in", "cm", 2.54),
    ("ft", "m", 0.3048),
    ("sq ft", "m²", 0.09290304),
    ("mph", "m/s", 0.44704),
    ("oz", "g", 28.34952),
    ("lb", "kg", 0.4535924),
    ("gal", "L", 3.785412),
]


@pytest.mark.parametrize(("us_unit", "unit", "factor"), NIST)
def test_one_us_unit_is_what_the_published_table_says(us_unit, unit, factor):
    assert stored(1, unit, "us") == pytest.approx(factor, rel=2e-7)
    value, name = shown(factor, unit, "us")
    assert (name, value) == (us_unit, pytest.approx(1, rel=2e-7))


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    # The scale's fixed points: ice, boiling water, and where both scales agree.
    [(0, 32), (100, 212), (-40, -40)],
)
def test_temperatures_meet_the_fixed_points_of_both_scales(celsius, fahrenheit):
    assert shown(celsius, "°C", "us") == (pytest.approx(fahrenheit), "°F")
    assert stored(fahrenheit, "°C", "us") == pytest.approx(celsius)


def test_a_difference_of_temperatures_gets_no_freezing_point():
    assert shown(5, "°C", "us", difference=True) == (9, "°F")
    assert stored(9, "°C", "us", difference=True) == 5


def test_a_metric_orchard_reads_what_is_stored():
    assert shown(12.5, "kg", "metric") == (12.5, "kg")
    assert stored(12.5, "kg", "metric") == 12.5


def test_a_unit_without_a_twin_stays():
    assert shown(12.5, "%", "us") == (12.5, "%")
    assert stored(12.5, "%", "us") == 12.5


@pytest.mark.parametrize("value", [math.nan, math.inf, "3", None, True])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(ValueError, match="value is"):
        shown(value, "kg", "us")
    with pytest.raises(ValueError, match="value is"):
        stored(value, "kg", "us")


def test_an_unknown_system_is_refused():
    with pytest.raises(ValueError, match="'imperial'"):
        shown(1, "kg", "imperial")


@given(st.sampled_from(sorted(US_UNITS)), st.floats(-1e6, 1e6))
def test_what_is_typed_back_is_what_was_stored(unit, value):
    there, _ = shown(value, unit, "us")
    assert stored(there, unit, "us") == pytest.approx(value, abs=1e-6)
