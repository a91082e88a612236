"""Missing days of air, bridged by marked estimates up to a limit; rain never is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from math import fsum

from django.utils.translation import gettext as _

from orchard.records.models import Orchard
from orchard.science import figures, weather
from orchard.services.water.reference_et import AirDay
from orchard.services.weather import Day, Missing


def bridge_gaps(
    orchard: Orchard, days: Sequence[Day | Missing], air: Sequence[AirDay]
) -> list[AirDay]:
    """Return the days of air with short gaps filled by estimates, which are marked.

    Up to 3 missing days in a row by a straight line between the temperatures on each
    side, up to 10 by the mean evaporation of 5 days on each side. Rain that is not on
    record counts as none. What lies before the first whole day stays missing.
    """
    found = list(air)
    for start, end in _gaps(air):
        if start == 0 or end - start > figures.figure("gap_most_days").value:
            continue
        around = int(figures.figure("gap_mean_days").value)
        beside = [
            day.et0
            for day in (*air[max(0, start - around) : start], *air[end : end + around])
            if day.et0 is not None
        ]
        for place in range(start, end):
            day = air[place]
            et0, method = day.et0, day.method
            if et0 is None:
                et0, method = _estimate(orchard, days, place, start, end), _LINE
            if et0 is None:
                et0, method = fsum(beside) / len(beside), _MEAN
            was_measured = day.et0 is not None
            found[place] = replace(
                day,
                et0=et0,
                method=method if was_measured else _words(method),
                rain_mm=day.rain_mm or 0.0,
                counted_mm=day.counted_mm or 0.0,
                why_not=day.why_not,
                is_estimated=True,
                et0_low=et0 if was_measured else min(*beside, et0),
                et0_high=et0 if was_measured else max(*beside, et0),
            )
    return found


_LINE, _MEAN = "line", "mean"


def _words(method: str) -> str:
    return {
        _LINE: _("estimated: a straight line between temperatures"),
        _MEAN: _("estimated: the mean of the days around"),
    }[method]


def _gaps(air: Sequence[AirDay]) -> Iterator[tuple[int, int]]:
    """Yield where each run of days that are not whole starts and ends."""
    places = groupby(range(len(air)), key=lambda place: air[place].is_whole)
    for is_whole, run in places:
        if not is_whole:
            gap = list(run)
            yield gap[0], gap[-1] + 1


def _estimate(
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
    return weather.hargreaves_et(days[place].on, float(orchard.latitude), low, high)
