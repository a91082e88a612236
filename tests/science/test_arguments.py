from __future__ import annotations

import math
from datetime import UTC, date, datetime

import pytest

from orchard.science import arguments


def test_a_refusal_names_the_argument_its_value_and_what_is_allowed() -> None:
    with pytest.raises(ValueError) as refused:
        arguments.number("rh", 120, "%", at_least=0, at_most=100)
    assert str(refused.value) == "rh is 120 %; allowed is at least 0 and at most 100 %."
    with pytest.raises(ValueError) as refused:
        arguments.number("depth", math.nan)
    assert str(refused.value) == "depth is nan; allowed is any finite number."


@pytest.mark.parametrize("value", [None, "5", True, math.nan, math.inf, -math.inf])
def test_what_is_no_finite_number_is_refused(value: object) -> None:
    with pytest.raises(ValueError, match="x is"):
        arguments.number("x", value)  # type: ignore[arg-type]


def test_bounds_are_kept_at_their_very_edge() -> None:
    assert arguments.number("x", 0, at_least=0, at_most=1) == 0.0
    assert arguments.number("x", 1, at_least=0, at_most=1) == 1.0
    with pytest.raises(ValueError, match="above 0"):
        arguments.number("x", 0, above=0)
    with pytest.raises(ValueError, match="below 1"):
        arguments.number("x", 1, below=1)
    assert isinstance(arguments.number("x", 1), float)


def test_counts_are_whole() -> None:
    assert arguments.whole("n", 3) == 3
    assert arguments.whole("n", 3.0) == 3  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="whole number"):
        arguments.whole("n", 3.5)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="at least 0"):
        arguments.whole("n", -1)


def test_a_day_is_no_moment_and_a_moment_has_a_zone() -> None:
    assert arguments.day("on", date(2024, 2, 29)) == date(2024, 2, 29)
    with pytest.raises(ValueError, match="on is"):
        arguments.day("on", datetime(2024, 2, 29, tzinfo=UTC))
    with pytest.raises(ValueError, match="time zone"):
        arguments.moment("at", datetime(2024, 2, 29))  # noqa: DTZ001
    with pytest.raises(ValueError, match="at is"):
        arguments.moment("at", date(2024, 2, 29))  # type: ignore[arg-type]


def test_places_and_temperatures_stay_on_earth() -> None:
    assert arguments.latitude(-90) == -90.0
    assert arguments.longitude(180) == 180.0
    for check, value in (
        (arguments.latitude, 90.1),
        (arguments.latitude, -90.1),
        (arguments.longitude, 180.1),
        (arguments.longitude, -180.1),
    ):
        with pytest.raises(ValueError, match="itude is"):
            check(value)
    for celsius in (-90.1, 70.1):
        with pytest.raises(ValueError, match="at least -90 and at most 70 °C"):
            arguments.temperature("t", celsius)
    assert arguments.day_range(20, 20) == (20.0, 20.0)
    with pytest.raises(ValueError, match="tmin is 21 °C, above tmax, 20 °C"):
        arguments.day_range(21, 20)
