"""Water in reach of each tree's roots, for the care plan: all trees in few queries."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from orchard.records.models import Crown, Orchard, Soil, Watering
from orchard.science import root_zone
from orchard.services.air_days import AirDay, air_day
from orchard.services.weather_days import Day, Missing

A_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class RootWater:
    """What the air took and rain brought, and what each tree was given, mm.

    Nothing is known (`total` is None) while nobody has said what the ground is like.
    """

    days: Mapping[date, AirDay]
    total: float | None
    ready: float
    given: Mapping[int, Mapping[date, float]]


def read(orchard: Orchard, days: Sequence[Day | Missing], *, today: date) -> RootWater:
    """Read soil, crowns and waterings of an orchard in three queries."""
    soil = Soil.objects.filter(orchard=orchard).order_by("-id").first()
    if soil is None:
        return RootWater({}, None, 0.0, {})
    total, ready = root_zone.in_reach(soil.sort)
    return RootWater(
        days={day.on: air_day(orchard, day, soil.cover) for day in days},
        total=total,
        ready=ready,
        given=_given(orchard, days[0].on, today),
    )


def _given(orchard: Orchard, start: date, today: date) -> dict[int, dict[date, float]]:
    """Return what was poured on each tree, mm over its crown circle."""
    crowns = dict(
        Crown.objects.current()
        .filter(orchard=orchard, measured_on__lte=today)
        .order_by("measured_on", "id")
        .values_list("tree_id", "width_m")
    )
    given: dict[int, dict[date, float]] = defaultdict(lambda: defaultdict(float))
    rows = (
        Watering.objects.current()
        .filter(orchard=orchard, given_on__gte=start, given_on__lte=today)
        .values_list("tree_id", "given_on", "litres")
    )
    for tree_id, on, litres in rows:
        width = crowns.get(tree_id)
        if width:
            given[tree_id][on] += litres / (math.pi / 4 * width**2)
    return given


def used_up(
    water: RootWater, tree_id: int, *, watered_on: date | None, today: date
) -> tuple[date, float] | None:
    """Return since when, and by what share of all water in reach, a tree has used it.

    Reckoned from the last day on which the ground was full whatever it held before:
    soaked by rain or by water given, or watered as the job asks. None while no such day
    is known, or while a day since is not known.
    """
    if water.total is None:
        return None
    given = water.given.get(tree_id, {})
    rows = _up_to(today - A_DAY, water, given)
    full_on = root_zone.last_full(rows, total=water.total, ready=water.ready)
    if watered_on is not None and (full_on is None or watered_on > full_on):
        full_on = watered_on
    since = [row for row in rows if full_on is not None and row[0] > full_on]
    if full_on is None or not since or since[0][0] != full_on + A_DAY:
        return None
    balance = root_zone.balance(since, total=water.total, ready=water.ready)
    return full_on, balance[-1].depleted / water.total


def _up_to(
    last: date, water: RootWater, given: Mapping[date, float]
) -> list[tuple[date, float, float, float, float]]:
    """Return the whole days up to one, back to the first that is not known."""
    rows: list[tuple[date, float, float, float, float]] = []
    on = last
    while on in water.days:
        day = water.days[on]
        if day.et0 is None or day.rain_mm is None:
            break
        rows.append((on, day.et0, day.kc, day.rain_mm, given.get(on, 0.0)))
        on -= A_DAY
    return rows[::-1]
