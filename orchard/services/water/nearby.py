"""Gaps of the orchard's own station, for which a station nearby may stand in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from orchard.records.models import Orchard, Station
from orchard.science import figures
from orchard.science.weather import Likeness, likeness
from orchard.services import weather
from orchard.services.weather import Day, Missing


class Range(NamedTuple):
    """How the lows and the highs of two stations go together."""

    low: Likeness
    high: Likeness


def stand_in(
    orchard: Orchard, days: Sequence[Day | Missing]
) -> tuple[list[Day | Missing], dict[int, str]]:
    """Return days on which another station stands in for the own one as an estimate.

    Where the own station misses up to 10 days in a row and another has them, its
    temperatures are brought to the orchard's place by the days measured at both; where
    the two do not go together they are left open. Its rain counts as none, also where
    the own station misses rain alone. Longer gaps are the other station's own record
    and stay as they are. Second, by place among the days, the name of the station that
    stands in.
    """
    found = list(days)
    names: dict[int, str] = {}
    sources = {source(day) for day in days for source in (_station, _rain_station)}
    if len(sources - {""}) < 2:
        return found, names
    stations = weather.stations_of(orchard)
    if stations[0].sort != Station.Sort.OWN:
        return found, names
    own = stations[0]
    fits: dict[str, Range | None] = {}
    for place in _short_gaps([_station(day) for day in days], own.name):
        day = days[place]
        name = _station(day)
        if not isinstance(day, Day) or not name:
            continue
        if name not in fits:
            [nearby] = [row for row in stations if row.name == name]
            fits[name] = _compare(orchard, days, own, nearby)
        found[place] = _at_home(day, fits[name], own.name)
        if found[place].range is not None:
            names[place] = name
    for place in _short_gaps([_rain_station(day) for day in days], own.name):
        day = found[place]
        if isinstance(day, Day):
            found[place] = replace(day, rain_mm=None)
    return found, names


def _station(day: Day | Missing) -> str:
    """Return the station that a day's temperatures come from."""
    origin = day.origins.get("tmin") if isinstance(day, Day) else None
    return origin.station if origin and day.range is not None else ""


def _rain_station(day: Day | Missing) -> str:
    """Return the station that a day's rain comes from."""
    origin = day.origins.get("rain_mm") if isinstance(day, Day) else None
    return origin.station if origin else ""


def _short_gaps(stations: Sequence[str], own: str) -> Iterator[int]:
    """Yield the places of each gap between days of the own station, if short enough."""
    most = figures.figure("gap_most_days").value
    mine = [place for place, station in enumerate(stations) if station == own]
    if not mine:
        return
    for before, after in zip(mine, [*mine[1:], len(stations)], strict=True):
        if after - before - 1 <= most:
            yield from range(before + 1, after)


def _compare(
    orchard: Orchard, days: Sequence[Day | Missing], own: Station, nearby: Station
) -> Range | None:
    first, last = days[0].on, days[-1].on
    ranges = [
        (there.range, here.range)
        for there, here in zip(
            weather.span(orchard, first, last, station=nearby),
            weather.span(orchard, first, last, station=own),
            strict=True,
        )
        if there.range is not None and here.range is not None
    ]
    low = likeness((there[1], here[1]) for there, here in ranges)
    high = likeness((there[2], here[2]) for there, here in ranges)
    return Range(low, high) if low and high else None


def _at_home(day: Day, fit: Range | None, own: str) -> Day:
    """Return a day with temperatures brought to the orchard's place, or without any."""
    rain_mm = day.rain_mm if _rain_station(day) == own else None
    found = Day(day.on, rain_mm=rain_mm, origins=day.origins)
    if fit is None or day.tmin is None or day.tmax is None:
        return found
    low, high = fit.low.at_home(day.tmin), fit.high.at_home(day.tmax)
    return found if low > high else replace(found, tmin=low, tmax=high)
