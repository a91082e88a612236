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

    Reckoned from the last day on which the ground was full: soaked by rain or by
    water given, or watered as the job asks. None while no such day is known, or while
    a day since is not known.
    """
    if water.total is None:
        return None
    given = water.given.get(tree_id, {})
    full_on = watered_on
    for on, day in water.days.items():
        brought = (day.counted_mm or 0.0) + given.get(on, 0.0)
        if brought >= water.total and (full_on is None or on > full_on):
            full_on = on
    yesterday = today - A_DAY
    if full_on is None or full_on not in water.days or full_on >= yesterday:
        return None
    rows = []
    for ahead in range(1, (yesterday - full_on).days + 1):
        day = water.days[full_on + timedelta(days=ahead)]
        if day.et0 is None or day.rain_mm is None:
            return None
        rows.append((day.on, day.et0, day.kc, day.rain_mm, given.get(day.on, 0.0)))
    balance = root_zone.balance(rows, total=water.total, ready=water.ready)
    return full_on, balance[-1].depleted / water.total
