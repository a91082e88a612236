"""One tree's ground: its waterings, its crowns, its own balance of water."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _

from orchard.records.models import Crown, Orchard, Tree, Watering
from orchard.science import figures, water
from orchard.science.water import Balance
from orchard.services import weather
from orchard.services.explained import Number
from orchard.services.water import containers, deficit, measurements
from orchard.services.water.balance import tree_balance
from orchard.services.water.containers import PotWater
from orchard.services.water.root_zone import read_root_water

MOST = 60


@dataclass(frozen=True, slots=True)
class TreeGround:
    """What is on record about one tree's water, newest first."""

    tree: Tree
    waterings: tuple[Watering, ...]
    crowns: tuple[Crown, ...]
    balance: tuple[Balance, ...]
    why_not: str
    ready_mm: float | None
    pot: PotWater | None = None
    left: Number | None = None


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
    soil = measurements.soil_of(orchard)
    crown = newest_crown(tree, today=today)
    rows: list[Balance] = []
    why_not = ""
    pot = None
    if tree.setting == Tree.Setting.CONTAINER:
        pot = _pot(orchard, tree, today=today)
        why_not = pot.why_not
    elif crown is None:
        why_not = _("No data: the width of the crown is not measured.")
    elif soil is None:
        why_not = _("No data: nobody has said what the ground is like.")
    else:
        rows, why_not = tree_balance(orchard, tree, soil, crown, today=today)
    return TreeGround(
        tree=tree,
        waterings=tuple(waterings),
        crowns=tuple(crowns),
        balance=tuple(rows),
        why_not=why_not,
        ready_mm=water.available_water(soil.sort)[1] if soil else None,
        pot=pot,
        left=deficit.container_deficit(pot) if pot and pot.is_known else None,
    )


def _pot(orchard: Orchard, tree: Tree, *, today: date) -> PotWater:
    start = today - figures.days("water_balance_days")
    days = weather.span(orchard, start, today - timedelta(days=1))
    return containers.container_water(
        read_root_water(orchard, days, today=today), tree, today=today
    )
