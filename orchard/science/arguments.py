"""Checks on arguments, so that every law refuses nonsense in the same words."""

from __future__ import annotations

import math
from datetime import date, datetime

COLDEST_C, HOTTEST_C = -90.0, 70.0


def number(
    name: str,
    value: float | None,
    unit: str = "",
    *,
    at_least: float | None = None,
    above: float | None = None,
    at_most: float | None = None,
    below: float | None = None,
) -> float:
    """Return the value as a float, or say in a sentence what would be allowed.

    Raises
    ------
    ValueError
        When the value is missing, not a number, not finite or outside the bounds.
    """
    # The words are made only for a refusal: laws check millions of numbers.
    if (
        (
            # Asked first, since it costs least and most of them are just that.
            type(value) is not float
            and (isinstance(value, bool) or not isinstance(value, (int, float)))
        )
        or not math.isfinite(value)
        or (at_least is not None and value < at_least)
        or (above is not None and value <= above)
        or (at_most is not None and value > at_most)
        or (below is not None and value >= below)
    ):
        bounds = [
            f"{words} {bound:g}"
            for words, bound in (
                ("at least", at_least),
                ("above", above),
                ("at most", at_most),
                ("below", below),
            )
            if bound is not None
        ]
        allowed = " and ".join(bounds) or "any finite number"
        unit_words = f" {unit}" if unit else ""
        raise ValueError(
            f"{name} is {value!r}{unit_words}; allowed is {allowed}{unit_words}."
        )
    return float(value)


def whole(
    name: str,
    value: int | None,
    unit: str = "",
    *,
    at_least: int = 0,
    at_most: int | None = None,
) -> int:
    """Return a count as an int, refusing fractions, negatives and missing values."""
    checked = number(name, value, unit, at_least=at_least, at_most=at_most)
    if checked != math.floor(checked):
        raise ValueError(f"{name} is {value!r}; allowed is a whole number.")
    return int(checked)


def day(name: str, value: date) -> date:
    """Return a calendar day, refusing a moment that was passed in its place."""
    if isinstance(value, datetime) or not isinstance(value, date):
        raise ValueError(
            f"{name} is {value!r}; allowed is a day in the orchard's time zone."
        )
    return value


def moment(name: str, value: datetime) -> datetime:
    """Return a moment, refusing one that does not say its time zone."""
    if not isinstance(value, datetime) or value.utcoffset() is None:
        raise ValueError(
            f"{name} is {value!r}; allowed is a moment that carries its time zone."
        )
    return value


def latitude(value: float) -> float:
    """Return a latitude in degrees, north positive."""
    return number("latitude", value, "degrees", at_least=-90.0, at_most=90.0)


def longitude(value: float) -> float:
    """Return a longitude in degrees, east positive."""
    return number("longitude", value, "degrees", at_least=-180.0, at_most=180.0)


def temperature(name: str, value: float | None) -> float:
    """Return an air temperature in °C within what weather on Earth can bring."""
    return number(name, value, "°C", at_least=COLDEST_C, at_most=HOTTEST_C)


def day_range(tmin: float | None, tmax: float | None) -> tuple[float, float]:
    """Return the day's lowest and highest temperature, refusing them when swapped."""
    low = temperature("tmin", tmin)
    high = temperature("tmax", tmax)
    if low > high:
        raise ValueError(
            f"tmin is {low:g} °C, above tmax, {high:g} °C; allowed is tmin <= tmax."
        )
    return low, high
