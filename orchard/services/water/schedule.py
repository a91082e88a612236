"""When to water: today, not before a day, or no data; then litres for each tree."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import NamedTuple

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import CrownSize, GrowingTree, Orchard, Soil, Tree
from orchard.science import figures
from orchard.science.water import Balance, WateringSpan
from orchard.services import weather
from orchard.services.explained import Number
from orchard.services.quantities import in_words
from orchard.services.water import balance
from orchard.services.water.containers import container_deficit, container_water
from orchard.services.water.reference_et import AirDay
from orchard.services.water.root_zone import (
    A_DAY,
    GroundWater,
    RootWater,
    first_balance_day,
    ground_water,
    read_root_water,
)
from orchard.services.weather import Day, Missing


class Call(StrEnum):
    """The first word about a tree's water, the most pressing first."""

    TODAY = "today"
    LATER = "later"
    NOT_SOON = "not_soon"
    NO_DATA = "no_data"


RANKS = {call: rank for rank, call in enumerate(Call)}


class TreeWater(NamedTuple):
    """When one tree is to be watered and how many litres refill it now.

    `low` and `high` are the range of litres where much of them is estimated.
    """

    tree: Tree | GrowingTree
    call: Call
    not_before: date | None = None
    not_later: date | None = None
    litres: float | None = None
    low: float | None = None
    high: float | None = None
    times: int = 1
    is_estimated: bool = False
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class TreesAlike:
    """Trees of a kind with the same call and the same days."""

    kind: str
    potted: bool
    call: Call
    not_before: date | None
    not_later: date | None
    times: int
    is_estimated: bool
    why_not: str
    rows: tuple[TreeWater, ...]


@dataclass(frozen=True, slots=True)
class WaterCalls:
    """How many trees have each call, and when the first is watered later."""

    today: date
    trees_by_call: Mapping[Call, int]
    next_on: date | None

    @property
    def trees(self) -> int:
        return sum(self.trees_by_call.values())

    @property
    def due_today(self) -> int:
        return self.trees_by_call.get(Call.TODAY, 0)

    @property
    def not_soon(self) -> int:
        return self.trees_by_call.get(Call.NOT_SOON, 0)

    @property
    def unclear(self) -> int:
        return self.trees_by_call.get(Call.NO_DATA, 0)


@dataclass(frozen=True, slots=True)
class WaterSchedule(WaterCalls):
    """All that the water page says."""

    soil: Soil | None
    days: tuple[AirDay, ...]
    groups: tuple[TreesAlike, ...]
    # One explained balance for each depth of roots, and one dose worked out.
    grounds: tuple[tuple[GroundWater, Number], ...]
    example: tuple[Tree | GrowingTree, tuple[Number, ...]] | None
    balance: tuple[Balance, ...]
    ready_mm: float | None

    @property
    def is_estimated(self) -> bool:
        return any(group.is_estimated for group in self.groups)


def count_water_calls(
    orchard: Orchard,
    *,
    today: date,
    days: Iterable[Day | Missing],
    trees: Iterable[GrowingTree],
    crowns: Mapping[int, CrownSize],
) -> WaterCalls:
    """Count the trees by when they are to be watered, in a fixed number of queries.

    `days` reach from `first_balance_day` or before to yesterday, `trees` are those that
    grow here, and `crowns` their newest.
    """
    begins_on = first_balance_day(today)
    days = [day for day in days if day.on >= begins_on]
    roots = read_root_water(orchard, days, today=today, crowns=crowns)
    return _calls_of((tree_water(roots, tree) for tree in trees), today)


def _calls_of(rows: Iterable[TreeWater], today: date) -> WaterCalls:
    days = Counter((row.call, row.not_before) for row in rows)
    trees: Counter[Call] = Counter()
    for (call, _on), count in days.items():
        trees[call] += count
    later = [on for call, on in days if call == Call.LATER and on is not None]
    return WaterCalls(today, trees, min(later, default=None))


def water_schedule(orchard: Orchard, *, today: date) -> WaterSchedule:
    """Tell when each tree is to be watered, in a fixed number of queries.

    What trees share is reckoned once.
    """
    days = weather.span(orchard, first_balance_day(today), today - A_DAY)
    roots = read_root_water(orchard, days, today=today)
    trees = orchard.trees.as_growing(orchard.time_zone)
    rows = [tree_water(roots, tree) for tree in trees]
    first = min(rows, key=_urgency, default=None)
    unwatered = _unwatered(roots, rows)
    calls = _calls_of(rows, today)
    return WaterSchedule(
        today=today,
        trees_by_call=calls.trees_by_call,
        next_on=calls.next_on,
        soil=roots.soil,
        days=tuple(
            day
            for on, day in roots.days.items()
            if on >= today - figures.days("use_days")
        ),
        groups=tuple(_groups(rows)),
        grounds=_grounds(roots),
        example=_example(roots, first),
        balance=tuple(unwatered[0]),
        ready_mm=unwatered[1],
    )


def tree_water(roots: RootWater, tree: Tree | GrowingTree) -> TreeWater:
    """Tell when a tree is to be watered, and how many litres refill it."""
    crown = roots.crowns.get(tree.pk)
    if tree.setting == Tree.Setting.CONTAINER:
        pot = container_water(roots, tree)
        if not pot.is_known:
            return TreeWater(tree, Call.NO_DATA, why_not=pot.why_not)
        call, first, last = _days(pot.turn, roots.today)
        litres = pot.missing or (pot.draw if call == Call.TODAY else 0.0)
        return TreeWater(
            tree,
            call,
            first,
            last,
            litres,
            low=pot.low if pot.missing else None,
            high=pot.high if pot.missing else None,
            times=pot.times if call == Call.TODAY else 1,
            is_estimated=pot.estimated_share > 0,
        )
    if crown is None:
        why_not = _("No data: the crown width isn't measured.")
        return TreeWater(tree, Call.NO_DATA, why_not=why_not)
    ground = ground_water(roots, tree)
    if ground.since is None or not ground.is_known:
        return TreeWater(tree, Call.NO_DATA, why_not=ground.why_not)
    circle = math.pi / 4 * crown.width_m**2
    call, first, last = _days(ground.turn, roots.today)
    return TreeWater(
        tree,
        call,
        first,
        last,
        ground.missing * circle,
        low=None if ground.low is None else ground.low * circle,
        high=None if ground.high is None else ground.high * circle,
        is_estimated=ground.since.estimated > 0,
    )


def _days(
    turn: WateringSpan | None, today: date
) -> tuple[Call, date | None, date | None]:
    if turn is None:
        return Call.NOT_SOON, None, None
    furthest = figures.figure("water_ahead_days").value
    if turn.not_before > furthest:
        return Call.NOT_SOON, None, None
    first = balance.day_after(today, turn.not_before)
    last = None
    if turn.not_later <= furthest:
        last = balance.day_after(today, turn.not_later)
    return (Call.LATER if turn.not_before else Call.TODAY), first, last


def _urgency(row: TreeWater) -> tuple[int, date]:
    return RANKS[row.call], row.not_before or date.max


def _groups(rows: Iterable[TreeWater]) -> list[TreesAlike]:
    """Put trees of a kind together that are watered on the same days."""
    found: dict[tuple[object, ...], list[TreeWater]] = {}
    for row in rows:
        key = (
            row.tree.kind_id,
            row.tree.setting,
            row.call,
            row.not_before,
            row.not_later,
            row.times,
            row.is_estimated,
            row.why_not,
        )
        found.setdefault(key, []).append(row)
    alike = [
        TreesAlike(
            kind=first.tree.kind.name,
            potted=first.tree.setting == Tree.Setting.CONTAINER,
            call=first.call,
            not_before=first.not_before,
            not_later=first.not_later,
            times=first.times,
            is_estimated=first.is_estimated,
            why_not=first.why_not,
            rows=tuple(members),
        )
        for members in found.values()
        for first in members[:1]
    ]
    return sorted(alike, key=lambda group: (*_urgency(group.rows[0]), group.kind))


def _grounds(roots: RootWater) -> tuple[tuple[GroundWater, Number], ...]:
    """Explain the driest ground of each depth of roots."""
    driest: dict[float | None, GroundWater] = {}
    for ground in roots.reckoned.values():
        before = driest.get(ground.depth)
        if before is None or ground.missing > before.missing:
            driest[ground.depth] = ground
    ordered = sorted(driest.values(), key=lambda ground: ground.depth or 0.0)
    return tuple((ground, balance.soil_deficit(ground)) for ground in ordered)


def _example(
    roots: RootWater, row: TreeWater | None
) -> tuple[Tree | GrowingTree, tuple[Number, ...]] | None:
    """Work out one tree's litres, number by number."""
    if row is None or row.call == Call.NO_DATA:
        return None
    if row.tree.setting == Tree.Setting.CONTAINER:
        pot = container_water(roots, row.tree)
        return row.tree, (container_deficit(pot),)
    ground = ground_water(roots, row.tree)
    dose = balance.ground_dose(ground, roots.crowns[row.tree.pk])
    return row.tree, (balance.soil_deficit(ground), dose)


def _unwatered(
    roots: RootWater, rows: Iterable[TreeWater]
) -> tuple[list[Balance], float | None]:
    """Return the ground of the most pressing tree in the ground, for its picture."""
    in_ground = [
        row
        for row in rows
        if row.tree.setting == Tree.Setting.GROUND and row.call != Call.NO_DATA
    ]
    first = min(in_ground, key=_urgency, default=None)
    if first is None:
        return [], None
    ground = ground_water(roots, first.tree)
    return balance.ground_rows(roots, first.tree, ground), ground.ready


def call_words(row: TreeWater | TreesAlike, today: date) -> str:
    """Say when a tree is to be watered, the first words of its line."""
    match row.call:
        case Call.TODAY:
            return _("Water today")
        case Call.LATER:
            assert row.not_before is not None
            return _("Not before about %(day)s") % {
                "day": day_words(row.not_before, today)
            }
        case Call.NOT_SOON:
            return _("Not in the next %(days)d days") % {
                "days": figures.days("water_ahead_days").days
            }
        case _:
            return _("No data")


def day_words(day: date, today: date) -> str:
    """Name a day by its weekday within a week, else by its date."""
    near = today <= day < today + timedelta(days=7)
    return date_format(day, "l" if near else "j F")


def cap_words(row: TreesAlike) -> str:
    """Say why a pot is watered no oftener, where it would need it."""
    most = figures.figure("pot_most_a_day").value
    if row.times < most:
        return ""
    return _(
        "More than %(most)s waterings a day don't help: the pot is too small for this "
        "crown. Give the tree shade or a larger pot."
    ) % {"most": in_words(most)}
