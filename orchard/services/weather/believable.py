"""Whether a forecast can be believed for its place and season."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from orchard.records.models import Orchard, WeatherDay
from orchard.science import windows
from orchard.science.figures import days, figure


def is_minimum_believable(orchard: Orchard, on: date, minimum: float) -> bool:
    """Tell whether a minimum (°C) is near what the place has at that time of year.

    Held against the orchard's own record where that is long enough; without one, a
    warm night in the cool months is not believed outside the tropics. One query.
    """
    return not doubted_minima(orchard, {on: minimum})


def doubted_minima(orchard: Orchard, minima: Mapping[date, float]) -> frozenset[date]:
    """Return the days whose minima are not believed, all of them in one query."""
    if not minima:
        return frozenset()
    back = days("believed_back_days")
    measured = [
        (day, _day_of_year(day), low)
        for day, low in WeatherDay.objects.in_orchard(orchard)
        .current()
        .filter(tmin__isnull=False, on__gte=min(minima) - back, on__lt=max(minima))
        .values_list("on", "tmin")
        if low is not None
    ]
    near = days("believed_season_days").days
    doubted = set()
    for on, minimum in minima.items():
        place = _day_of_year(on)
        lows = [
            low
            for day, day_of_year, low in measured
            if on - back <= day < on and _days_apart(day_of_year, place) <= near
        ]
        if not _is_believable(orchard, on, minimum, lows):
            doubted.add(on)
    return frozenset(doubted)


def _is_believable(
    orchard: Orchard, on: date, minimum: float, lows: Sequence[float]
) -> bool:
    if len(lows) >= figure("believed_fewest_days").value:
        margin = figure("believed_margin_c").value
        return min(lows) - margin <= minimum <= max(lows) + margin
    latitude = float(orchard.latitude)
    if abs(latitude) < figure("tropics_latitude").value:
        return True
    month = windows.season_month(on, latitude)
    until, since = figure("cool_until_sm").value, figure("cool_from_sm").value
    return until < month < since or minimum < figure("warm_minimum_c").value


def _day_of_year(day: date) -> int:
    return day.toordinal() - date(day.year, 1, 1).toordinal() + 1


def _days_apart(first: int, second: int) -> int:
    """Count the days between two days of the year as if they lay in the same year."""
    apart = abs(first - second)
    return min(apart, 365 - apart)
