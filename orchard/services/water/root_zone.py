"""Water in reach of each tree's roots, for the care plan: all trees in few queries."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from orchard.records.models import (
    Closure,
    Crown,
    Orchard,
    Soil,
    Task,
    Tree,
    Watering,
    job_keys,
)
from orchard.science.water import available_water, last_full, root_zone_balance
from orchard.science.words import JobRole
from orchard.services.water.reference_et import AirDay, air_day
from orchard.services.weather import Day, Missing

A_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class RootWater:
    """What the air took and rain brought, and what each tree was given.

    Of the ground nothing is known (`total` is None) while nobody has said what it is
    like. `poured` are litres noted, `ticked` the days on which the job was done.
    """

    days: Mapping[date, AirDay]
    total: float | None
    ready: float
    crowns: Mapping[int, float]
    poured: Mapping[int, Mapping[date, float]]
    ticked: Mapping[int, frozenset[date]]

    def filled(self, tree_id: int) -> frozenset[date]:
        """Return the days a tree was watered as the job asks, with no litres noted.

        Where litres are noted they count, for they may be fewer than were needed.
        """
        noted = self.poured.get(tree_id, {})
        return frozenset(self.ticked.get(tree_id, frozenset()) - noted.keys())


def read_root_water(
    orchard: Orchard, days: Sequence[Day | Missing], *, today: date
) -> RootWater:
    """Read soil, crowns, waterings and work done of an orchard in five queries."""
    soil = Soil.objects.filter(orchard=orchard).order_by("-id").first()
    cover = soil.cover if soil else Soil.Cover.BARE
    total, ready = available_water(soil.sort) if soil else (None, 0.0)
    crowns = (
        Crown.objects.current()
        .filter(orchard=orchard, measured_on__lte=today)
        .order_by("measured_on", "id")
    )
    return RootWater(
        days={day.on: air_day(orchard, day, cover) for day in days},
        total=total,
        ready=ready,
        crowns=dict(crowns.values_list("tree_id", "width_m")),
        poured=_poured(orchard, days[0].on, today),
        ticked=_ticked(orchard, days[0].on, today),
    )


def _poured(orchard: Orchard, start: date, today: date) -> dict[int, dict[date, float]]:
    """Return the litres noted for each tree, day by day."""
    poured: dict[int, dict[date, float]] = defaultdict(lambda: defaultdict(float))
    rows = (
        Watering.objects.current()
        .filter(orchard=orchard, given_on__gte=start, given_on__lte=today)
        .values_list("tree_id", "given_on", "litres")
    )
    for tree_id, on, litres in rows:
        poured[tree_id][on] += litres
    return poured


def _ticked(orchard: Orchard, start: date, today: date) -> dict[int, frozenset[date]]:
    """Return the days on which each tree's watering was done; skipped is not done.

    The valves of a block water its trees on a drip line.
    """
    ticked: dict[int, set[date]] = defaultdict(set)
    on_drip: dict[int, list[int]] = defaultdict(list)
    drip_lines = Tree.objects.in_orchard(orchard).filter(irrigated=True)
    for tree_id, block_id in drip_lines.values_list("pk", "spot__block_id"):
        on_drip[block_id].append(tree_id)
    rows = (
        Closure.objects.filter(
            task__orchard=orchard,
            task__kind=Task.Kind.CARE,
            task__key__in=job_keys(JobRole.WATERING),
            how=Closure.How.DONE,
            undone_at=None,
            done_on__gte=start,
            done_on__lte=today,
        )
        .order_by("id")
        .values_list("task__tree_id", "task__block_id", "done_on")
    )
    for tree_id, block_id, on in rows:
        watered = on_drip[block_id] if tree_id is None else [tree_id]
        for watered_id in watered:
            ticked[watered_id].add(on)
    return {tree_id: frozenset(days) for tree_id, days in ticked.items()}


def root_zone_depletion(
    water: RootWater, tree_id: int, *, today: date
) -> tuple[date, float] | None:
    """Return since when, and by what share of all water in reach, a tree has used it.

    Reckoned from the last day on which the ground was full whatever it held before:
    soaked by rain or by water given, or watered as the job asks. None while no such day
    is known, or while a day since is not known.
    """
    if water.total is None:
        return None
    rows = _up_to(today - A_DAY, water, _given(water, tree_id))
    full_on = last_full(rows, total=water.total, ready=water.ready)
    watered_on = max(water.filled(tree_id), default=None)
    if watered_on is not None and (full_on is None or watered_on > full_on):
        full_on = watered_on
    since = [row for row in rows if full_on is not None and row[0] > full_on]
    if full_on is None or not since or since[0][0] != full_on + A_DAY:
        return None
    balance = root_zone_balance(since, total=water.total, ready=water.ready)
    return full_on, balance[-1].depleted / water.total


def _given(water: RootWater, tree_id: int) -> Mapping[date, float]:
    """Return what was poured on a tree, mm over its crown circle."""
    width = water.crowns.get(tree_id)
    if not width:
        return {}
    circle = math.pi / 4 * width**2
    return {on: litres / circle for on, litres in water.poured.get(tree_id, {}).items()}


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
