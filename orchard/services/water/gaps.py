"""Missing days of air, bridged by marked estimates up to a limit; rain never is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import fsum

from django.utils.translation import gettext as _

from orchard.records.models import Orchard
from orchard.science import figures
from orchard.science.weather import hargreaves_et
from orchard.services import weather
from orchard.services.water.nearby import stand_in
from orchard.services.water.reference_et import AirDay, air_day
from orchard.services.weather import Day, Missing


@dataclass(frozen=True, slots=True)
class Estimate:
    """What a missing day took of water, mm, how that was found, and its range."""

    et0: float
    method: str
    spread: tuple[float, ...] = ()


def bridged_air(
    orchard: Orchard, days: Sequence[Day | Missing], cover: str
) -> list[AirDay]:
    """Return what the air took on each day, short gaps filled by marked estimates.

    A station nearby stands in for the own one where both go together. Else up to 3
    missing days in a row are bridged by a straight line between the temperatures on
    each side, and up to 10 by the mean of that week in earlier years, or by the mean
    evaporation of 5 days on each side. Rain that is not on record counts as none. What
    lies before the first whole day stays missing.
    """
    days, nearby = stand_in(orchard, days)
    air = [air_day(orchard, day, cover) for day in days]
    gaps = [
        (start, end)
        for start, end in _gaps(air, nearby)
        if start and end - start <= figures.figure("gap_most_days").value
    ]
    lines = {
        place: line
        for start, end in gaps
        for place in range(start, end)
        if (line := _on_a_line(orchard, days, place, start, end)) is not None
    }
    usual = weather.usual_temperatures(
        orchard,
        [
            air[place].on
            for start, end in gaps
            for place in range(start, end)
            if air[place].et0 is None and place not in lines
        ],
    )
    # Until its gap is bridged, a day that another station had is a missing one.
    found = [
        day._replace(et0=None, why_not=_("lowest or highest temperature missing"))
        if place in nearby
        else day
        for place, day in enumerate(air)
    ]
    for start, end in gaps:
        beside = _beside(air, nearby, start, end)
        for place in range(start, end):
            day = air[place]
            if place in nearby and day.et0 is not None:
                name = nearby[place]
                words = _("estimated: from %(station)s") % {"station": name}
                guess = Estimate(day.et0, words)
            elif day.et0 is not None:
                guess = Estimate(day.et0, day.method)
            elif place in lines:
                words = _("estimated: a straight line between temperatures")
                guess = Estimate(lines[place], words)
            elif day.on in usual:
                guess = _of_the_week(orchard, day, usual[day.on])
            else:
                words = _("estimated: the mean of the days around")
                guess = Estimate(fsum(beside) / len(beside), words)
            is_measured = day.et0 is not None and place not in nearby
            ends = (guess.et0,) if is_measured else (*beside, *guess.spread, guess.et0)
            found[place] = day._replace(
                et0=guess.et0,
                method=guess.method,
                rain_mm=day.rain_mm or 0.0,
                counted_mm=day.counted_mm or 0.0,
                is_estimated=True,
                et0_low=min(ends),
                et0_high=max(ends),
            )
    return found


def _gaps(
    air: Sequence[AirDay], nearby: Mapping[int, str]
) -> Iterator[tuple[int, int]]:
    """Yield where each run of days that are not whole starts and ends."""
    places = groupby(
        range(len(air)),
        key=lambda place: air[place].is_whole and place not in nearby,
    )
    for is_whole, run in places:
        if not is_whole:
            gap = list(run)
            yield gap[0], gap[-1] + 1


def _beside(
    air: Sequence[AirDay], nearby: Mapping[int, str], start: int, end: int
) -> list[float]:
    """Return the evaporation measured on the days on each side of a gap."""
    around = int(figures.figure("gap_mean_days").value)
    places = (*range(max(0, start - around), start), *range(end, end + around))
    return [
        et0
        for place in places
        if place < len(air) and place not in nearby
        if (et0 := air[place].et0) is not None
    ]


def _on_a_line(
    orchard: Orchard,
    days: Sequence[Day | Missing],
    place: int,
    start: int,
    end: int,
) -> float | None:
    """Return a day's evaporation from temperatures on a line across a short gap."""
    if end - start > figures.figure("gap_line_days").value or end >= len(days):
        return None
    before, after = days[start - 1], days[end]
    if isinstance(before, Missing) or isinstance(after, Missing):
        return None
    if before.range is None or after.range is None:
        return None
    share = (place - start + 1) / (end - start + 1)
    low, high = (
        first + (last - first) * share
        for first, last in zip(before.range[1:], after.range[1:], strict=True)
    )
    return hargreaves_et(days[place].on, float(orchard.latitude), low, high)


def _of_the_week(
    orchard: Orchard, day: AirDay, usual: Sequence[tuple[float, float]]
) -> Estimate:
    """Return a day's evaporation from the temperatures that its week usually has."""
    latitude = float(orchard.latitude)
    low, high = (fsum(ends) / len(usual) for ends in zip(*usual, strict=True))
    return Estimate(
        hargreaves_et(day.on, latitude, low, high),
        _("estimated: the mean of this week in earlier years"),
        tuple(hargreaves_et(day.on, latitude, *ends) for ends in usual),
    )
