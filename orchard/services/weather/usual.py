"""What a week of the year usually brings, by the orchard's own record."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, timedelta

from django.db.models import Min, Q

from orchard.records.models import Orchard, Station, WeatherDay
from orchard.science.figures import days

YEAR = 365
HALF_A_YEAR = timedelta(days=183)


def usual_temperatures(
    orchard: Orchard, days_asked: Iterable[date]
) -> dict[date, list[tuple[float, float]]]:
    """Return lows and highs measured in earlier years in the week around each day.

    By the orchard's own station alone: another lies higher or in another valley. A day
    is left out where its week is not whole in any year put together. Two queries, none
    without days.
    """
    asked = sorted(days_asked)
    if not asked:
        return {}
    week = days("usual_week_days").days
    record = (
        WeatherDay.objects.in_orchard(orchard)
        .current()
        .filter(station__sort=Station.Sort.OWN, on__lt=asked[0] - HALF_A_YEAR)
    )
    oldest = record.aggregate(Min("on"))["on__min"]
    if oldest is None:
        return {}
    rows = (
        record.filter(_same_weeks(asked[0], asked[-1], week=week, oldest=oldest))
        .order_by("station_id")
        .values_list("on", "tmin", "tmax")
    )
    measured: dict[date, tuple[float, float]] = {}
    for on, low, high in rows:
        if low is not None and high is not None:
            measured.setdefault(on, (low, high))
    by_place: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for on, range_ in measured.items():
        by_place[_place_in_year(on)].append(range_)
    found = {}
    for day in asked:
        middle = _place_in_year(day)
        around = [
            range_
            for apart in range(-(week // 2), week // 2 + 1)
            for range_ in by_place[(middle + apart) % YEAR]
        ]
        if len(around) >= week:
            found[day] = around
    return found


def _same_weeks(first: date, last: date, *, week: int, oldest: date) -> Q:
    """Return the days of earlier years that can lie in a week around days asked."""
    # Two days more on each side: a leap year shifts the places of a year by one.
    around = timedelta(days=week // 2 + 2)
    weeks = Q()
    for back in range(1, first.year - oldest.year + 2):
        weeks |= Q(
            on__range=(
                _years_before(first - around, back),
                _years_before(last + around, back),
            )
        )
    return weeks


def _years_before(day: date, years: int) -> date:
    place = timedelta(days=day.timetuple().tm_yday - 1)
    return date(day.year - years, 1, 1) + place


def _place_in_year(day: date) -> int:
    """Return a day's place in a year of 365 days; 31 December of a leap year is 0."""
    return day.timetuple().tm_yday % YEAR
