"""One tree's ground: its waterings, its crowns, its own balance of water."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from orchard.records.models import Crown, Orchard, Tree, Watering
from orchard.science import figures
from orchard.science.water import Balance
from orchard.services import weather
from orchard.services.explained import Number
from orchard.services.water import balance, containers, schedule
from orchard.services.water.root_zone import (
    A_DAY,
    PotWater,
    first_balance_day,
    ground_water,
    read_root_water,
)
from orchard.services.water.schedule import TreeWater

MOST = 60


@dataclass(frozen=True, slots=True)
class TreeGround:
    """What is on record about one tree's water, newest first."""

    tree: Tree
    water: TreeWater
    call: str
    waterings: tuple[Watering, ...]
    crowns: tuple[Crown, ...]
    why_not: str
    balance: tuple[Balance, ...] = ()
    ready_mm: float | None = None
    pot: PotWater | None = None
    numbers: tuple[Number, ...] = ()


def newest_crown(tree: Tree, *, today: date) -> Crown | None:
    """Return the newest standing measurement of a tree's crown."""
    found: Crown | None = (
        Crown.objects.current()
        .filter(tree=tree, measured_on__lte=today)
        .order_by("-measured_on", "-id")
        .first()
    )
    return found


def ground_of_tree(orchard: Orchard, tree: Tree, *, today: date) -> TreeGround:
    """Gather a tree's waterings and crowns, and the balance they allow."""
    waterings = (
        Watering.objects.current()
        .filter(tree=tree, given_on__gte=today - figures.days("water_log_days"))
        .select_related("by")
        .order_by("-given_on", "-id")[:MOST]
    )
    crowns = (
        Crown.objects.current()
        .filter(tree=tree)
        .select_related("by")
        .order_by("-measured_on", "-id")[:MOST]
    )
    spanned = weather.span(orchard, first_balance_day(today), today - A_DAY)
    roots = read_root_water(orchard, spanned, today=today)
    row = schedule.tree_water(roots, tree)
    found = TreeGround(
        tree=tree,
        water=row,
        call=schedule.call_words(row, today),
        waterings=tuple(waterings),
        crowns=tuple(crowns),
        why_not=row.why_not,
    )
    if tree.setting == Tree.Setting.CONTAINER:
        pot = containers.container_water(roots, tree)
        numbers = (containers.container_deficit(pot),) if pot.is_known else ()
        return replace(found, pot=pot, numbers=numbers)
    crown = roots.crowns.get(tree.pk)
    ground = ground_water(roots, tree)
    if crown is None or not ground.is_known:
        return found
    return replace(
        found,
        balance=tuple(balance.ground_rows(roots, tree, ground)),
        ready_mm=ground.ready,
        numbers=(balance.soil_deficit(ground), balance.ground_dose(ground, crown)),
    )
