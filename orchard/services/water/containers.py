"""Water in each container: what the tree drew, what rain and waterings brought."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _

from orchard.records.models import Tree
from orchard.science import water
from orchard.science.water import PotBalance
from orchard.services.water.reference_et import AirDay, named
from orchard.services.water.root_zone import RootWater

A_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class PotWater:
    """A container since it was last full for certain, L; or why that is not known.

    `missing` is what would fill it today, what was poured today already in it.
    """

    days: tuple[PotBalance, ...] = ()
    full_on: date | None = None
    volume: float = 0.0
    total: float = 0.0
    ready: float = 0.0
    missing: float = 0.0
    why_not: str = ""

    @property
    def is_known(self) -> bool:
        return self.full_on is not None


def container_water(roots: RootWater, tree: Tree, *, today: date) -> PotWater:
    """Reckon one container up to the end of yesterday; nothing is guessed."""
    width = roots.crowns.get(tree.pk)
    if tree.container_litres is None:
        return PotWater(why_not=_("No data: how much the pot holds is not noted."))
    if width is None:
        return PotWater(why_not=_("No data: the width of the crown is not measured."))
    volume = float(tree.container_litres)
    total, ready = water.available_in_container(volume)
    air = _whole_days(roots, today)
    filled = roots.filled(tree.pk)
    poured = roots.poured.get(tree.pk, {})
    mouth = water.mouth_area(volume)
    # "Watered" without litres means that water ran through: as much as it can miss.
    rows = [
        (
            day.on,
            water.litres_per_tree(day.et0 or 0.0, day.kc, width),
            (day.counted_mm or 0.0) * mouth,
            poured.get(day.on, 0.0) + (total if day.on in filled else 0.0),
        )
        for day in air
    ]
    days = water.certain(rows, volume)
    if not days:
        return PotWater(why_not=_why_not(roots, air, today))
    missing = days[-1].missing - poured.get(today, 0.0)
    return PotWater(
        days=tuple(days),
        full_on=max(day.on for day in days if day.was_full),
        volume=volume,
        total=total,
        ready=ready,
        missing=0.0 if today in filled else max(0.0, missing),
    )


def container_depletion(
    roots: RootWater, tree: Tree, *, today: date
) -> tuple[date, float] | None:
    """Return since when, and by what share of all it holds, a pot is used up."""
    found = container_water(roots, tree, today=today)
    if found.full_on is None:
        return None
    return found.full_on, found.missing / found.total


def _whole_days(roots: RootWater, today: date) -> list[AirDay]:
    """Return the whole days up to yesterday, back to the first that is not known."""
    days: list[AirDay] = []
    on = today - A_DAY
    while on in roots.days and roots.days[on].is_whole:
        days.append(roots.days[on])
        on -= A_DAY
    return days[::-1]


def _why_not(roots: RootWater, air: list[AirDay], today: date) -> str:
    first = air[0].on if air else today
    broken = roots.days.get(first - A_DAY)
    if not air and broken is not None:
        return _("No data for: %(days)s.") % {"days": named([broken])}
    return _(
        "Nothing on record has filled this pot yet. Water it until it runs through "
        "below, and note it: the balance begins there."
    )
