"""Water of a week: what the air took, what fell, litres for each tree; no guesses."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Crown, Orchard, Soil, Tree, Watering
from orchard.science import figures, water
from orchard.science.water import Balance
from orchard.services import weather
from orchard.services.explained import Input, Number
from orchard.services.water import balance as balances
from orchard.services.water import deficit, measurements
from orchard.services.water.balance import FAO_56
from orchard.services.water.reference_et import AirDay, air_day, named
from orchard.services.water.root_zone import read_root_water

A_DAY = timedelta(days=1)
WEEK = 7


@dataclass(frozen=True, slots=True)
class TreeWater:
    """One tree's week in litres: need, rain on its ground, given, still to give."""

    tree: Tree
    crown: Crown | None
    need: Number
    rain_l: float | None
    given_l: float
    left: Number
    last_watered_on: date | None


@dataclass(frozen=True, slots=True)
class WaterWeek:
    """All that the water page says of the last seven days."""

    start: date
    end: date
    soil: Soil | None
    days: tuple[AirDay, ...]
    missing: tuple[AirDay, ...]
    et0: Number
    rain: Number
    rows: tuple[TreeWater, ...]
    balance: tuple[Balance, ...]
    full_on: date | None
    why_no_balance: str
    ready_mm: float | None
    total_mm: float | None
    depleted: Number


def week_of_water(orchard: Orchard, *, today: date) -> WaterWeek:
    """Reckon the last seven whole days of an orchard, tree by tree.

    A fixed number of queries. A day without temperatures or rain is named, and no
    litres are told for a week with such a day.
    """
    end = today - A_DAY
    start = end - timedelta(days=WEEK - 1)
    soil = measurements.soil_of(orchard)
    cover = soil.cover if soil else Soil.Cover.BARE
    spanned = weather.span(orchard, today - figures.days("water_balance_days"), end)
    air_days = tuple(air_day(orchard, day, cover) for day in spanned)
    days = tuple(day for day in air_days if day.on >= start)
    missing = tuple(day for day in days if not day.is_whole)
    crowns = newest_crowns(orchard, today)
    given, last = _watered(orchard, start, end)
    trees = (
        Tree.objects.in_orchard(orchard)
        .looked_after()
        .select_related("kind", "spot__block")
        .in_walking_order()
    )
    balance, full_on, why_not = balances.ground_balance(air_days, soil)
    total, ready = water.available_water(soil.sort) if soil else (None, None)
    roots = read_root_water(orchard, spanned, today=today)
    return WaterWeek(
        start=start,
        end=end,
        soil=soil,
        days=days,
        missing=missing,
        et0=_sum(_("The air took"), days, "et0", missing),
        rain=_sum(_("Rain counted"), days, "counted_mm", missing),
        rows=tuple(
            _tree_water(
                tree,
                crowns.get(tree.pk),
                days,
                missing,
                given.get(tree.pk, 0.0),
                last.get(tree.pk),
                soil,
                deficit.tree_deficit(roots, tree, crowns.get(tree.pk), today),
            )
            for tree in trees
        ),
        balance=tuple(balance),
        full_on=full_on,
        why_no_balance=why_not,
        ready_mm=ready,
        total_mm=total,
        depleted=balances.depleted(balance, full_on, why_not, ready),
    )


def newest_crowns(orchard: Orchard, today: date) -> dict[int, Crown]:
    """Return the newest standing measurement of each tree's crown; one query."""
    rows = (
        Crown.objects.in_orchard(orchard)
        .current()
        .filter(measured_on__lte=today)
        .order_by("measured_on", "id")
    )
    return {row.tree_id: row for row in rows}


def _watered(
    orchard: Orchard, start: date, end: date
) -> tuple[dict[int, float], dict[int, date]]:
    """Sum the litres of the week by tree, and tell when each was last watered."""
    litres: dict[int, float] = defaultdict(float)
    last: dict[int, date] = {}
    rows = (
        Watering.objects.in_orchard(orchard)
        .current()
        .filter(given_on__gte=start - figures.days("last_watering_days"))
        .order_by("given_on", "id")
    )
    for row in rows:
        last[row.tree_id] = row.given_on
        if start <= row.given_on <= end + A_DAY:
            litres[row.tree_id] += row.litres
    return litres, last


def _sum(
    what: str, days: Sequence[AirDay], name: str, missing: Sequence[AirDay]
) -> Number:
    law = "water.reference_et" if name == "et0" else "water.counted_rain"
    values = [getattr(day, name) for day in days]
    if any(value is None for value in values):
        return Number(
            what,
            None,
            "mm",
            law=law,
            source=FAO_56,
            missing=_("No data for: %(days)s.") % {"days": named(missing)},
        )
    methods = dict.fromkeys(day.method for day in days)
    return Number(
        what,
        math.fsum(values),
        "mm",
        law=law,
        method=(
            ", ".join(methods)
            if name == "et0"
            else _("A sprinkle under a fifth of the day's evaporation counts as none.")
        ),
        source=FAO_56,
        inputs=tuple(
            Input(date_format(day.on, "D j M"), getattr(day, name), "mm", day.method)
            for day in days
        ),
        digits=1,
    )


def _tree_water(
    tree: Tree,
    crown: Crown | None,
    days: Sequence[AirDay],
    missing: Sequence[AirDay],
    given: float,
    last: date | None,
    soil: Soil | None,
    by_balance: Number | None,
) -> TreeWater:
    potted = tree.setting == Tree.Setting.CONTAINER
    why_not = ""
    if crown is None:
        why_not = _("No data: the width of the crown is not measured.")
    elif soil is None and not potted:
        why_not = _("No data: nobody has said what the ground is like.")
    elif any(day.et0 is None for day in days):
        why_not = _("No data for: %(days)s.") % {"days": named(missing)}
    if why_not or crown is None:
        nothing = Number(_("Litres a week"), None, "L", missing=why_not)
        return TreeWater(tree, crown, nothing, None, given, nothing, last)
    need_mm = math.fsum(day.need_mm or 0.0 for day in days)
    et0 = math.fsum(day.et0 or 0.0 for day in days)
    litres = water.litres_per_tree(need_mm, 1.0, crown.width_m)
    need = Number(
        _("Litres a week"),
        litres,
        "L",
        law="water.litres_per_tree",
        method=_(
            "Evaporation times the coefficient of the day, over the crown circle."
        ),
        source=FAO_56,
        inputs=(
            Input(_("Reference evaporation of the week"), et0, "mm"),
            Input(_("Mean coefficient"), need_mm / et0 if et0 else None, ""),
            Input(
                _("Width of the crown"),
                crown.width_m,
                "m",
                date_format(crown.measured_on, "j M Y"),
            ),
        ),
        digits=0,
    )
    # A crown sheds rain past a pot but for its mouth; on the ground all of it counts.
    rain_known = all(day.counted_mm is not None for day in days)
    counted = math.fsum(day.counted_mm or 0.0 for day in days)
    rain = _rain_on(tree, crown, counted)
    if by_balance is not None:
        fell = rain if rain_known else None
        return TreeWater(tree, crown, need, fell, given, by_balance, last)
    if not potted and not rain_known:
        left = Number(
            _("Still to give"),
            None,
            "L",
            missing=_("No data for: %(days)s.") % {"days": named(missing)},
        )
        return TreeWater(tree, crown, need, None, given, left, last)
    left = Number(
        _("Still to give"),
        max(0.0, litres - rain - given),
        "L",
        law="water.litres_per_tree",
        method=(
            _("Need minus rain in the pot's mouth minus what was watered.")
            if potted
            else _("Need minus counted rain minus what was watered.")
        ),
        source=FAO_56,
        inputs=(
            Input(need.what, litres, "L"),
            Input(_("Rain counted"), rain, "L"),
            Input(_("Watered"), given, "L"),
        ),
        digits=0,
    )
    return TreeWater(tree, crown, need, rain, given, left, last)


def _rain_on(tree: Tree, crown: Crown, counted: float) -> float:
    """Return the litres of rain that reach a tree's roots; 0 for a pot of no volume."""
    if tree.setting == Tree.Setting.GROUND:
        return water.litres_per_tree(counted, 1.0, crown.width_m)
    if tree.container_litres is None:
        return 0.0
    return counted * water.mouth_area(float(tree.container_litres))
