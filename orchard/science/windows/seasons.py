"""Seasons counted from the first month of spring, the same north and south."""

from __future__ import annotations

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date
from math import isfinite

from orchard.science.words import Season

_SPAN = re.compile(r"SM(\d{1,2})-(\d{1,2})\.\.SM(\d{1,2})-(\d{1,2})")


def is_north(latitude: float) -> bool:
    """Say whether a latitude (degrees, north positive) has its spring in March.

    The equator counts as north. Between the tropics these seasons are only a name
    for the months: rain, not warmth, sets the year there, and an orchard may prefer
    jobs that follow events and growth stages. ValueError beyond 90 degrees or NaN.
    """
    if not isfinite(latitude) or not -90 <= latitude <= 90:
        raise ValueError(f"latitude is {latitude!r}; it must lie within -90 to 90.")
    return latitude >= 0


def first_month(latitude: float) -> int:
    """Name the calendar month that is season month 1: March north, September south.

    Source: meteorological seasons as the WMO groups months by threes (from memory).
    """
    return 3 if is_north(latitude) else 9


def season_month(day: date, latitude: float) -> int:
    """Number the month of a day from 1, the first of spring, to 12, the last of winter.

    `latitude` in degrees, north positive. ValueError as `is_north`.
    """
    return (day.month - first_month(latitude)) % 12 + 1


def season_of_month(month: int) -> Season:
    """Name the season of a season month (1 to 12); ValueError outside."""
    if not 1 <= month <= 12:
        raise ValueError(f"season month is {month!r}; it must lie within 1 to 12.")
    return tuple(Season)[(month - 1) // 3]


def season(day: date, latitude: float) -> Season:
    """Name the meteorological season of a day at a latitude (degrees, north positive).

    ValueError as `is_north`. Source: WMO three-month seasons (from memory).
    """
    return season_of_month(season_month(day, latitude))


def season_year(day: date, latitude: float) -> int:
    """Name the season year of a day: the calendar year its first spring month is in."""
    return day.year if day.month >= first_month(latitude) else day.year - 1


def day_in_season(year: int, month: int, day: int, latitude: float) -> date:
    """Give the date of a day of a season month in a season year.

    A day beyond the month's end means its last day, so 30 in February is the 28th,
    or the 29th in a leap year.
    """
    calendar_month = (first_month(latitude) - 1 + month - 1) % 12 + 1
    calendar_year = year + (calendar_month < first_month(latitude))
    last = monthrange(calendar_year, calendar_month)[1]
    return date(calendar_year, calendar_month, min(day, last))


@dataclass(frozen=True, slots=True, order=True)
class SeasonDay:
    """A day of the season year, without a hemisphere."""

    month: int
    day: int


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the season year; it may run across its end."""

    first: SeasonDay
    last: SeasonDay

    def dates(self, year: int, latitude: float) -> tuple[date, date]:
        """Give first and last date of the span that begins in a season year."""
        crosses = self.last < self.first
        return (
            day_in_season(year, self.first.month, self.first.day, latitude),
            day_in_season(year + crosses, self.last.month, self.last.day, latitude),
        )

    @property
    def code(self) -> str:
        """Write the span as care files have it."""
        first, last = self.first, self.last
        return f"SM{first.month}-{first.day:02}..SM{last.month}-{last.day:02}"


def read_spans(code: str) -> tuple[Span, ...]:
    """Read "SM8-15..SM2-15", several joined by "&", or "any" for the whole year.

    ValueError for anything else, and for a month beyond 12 or a day beyond 31.
    """
    if code.strip() == "any":
        return ()
    spans = []
    for part in code.split("&"):
        found = _SPAN.fullmatch(part.strip())
        if found is None:
            raise ValueError(f"{part.strip()!r} is no span such as SM8-15..SM2-15.")
        numbers = [int(number) for number in found.groups()]
        first, last = SeasonDay(*numbers[:2]), SeasonDay(*numbers[2:])
        for end in (first, last):
            if not (1 <= end.month <= 12 and 1 <= end.day <= 31):
                raise ValueError(f"{part.strip()!r} names a day that is in no year.")
        spans.append(Span(first, last))
    return tuple(spans)
