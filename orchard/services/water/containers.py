"""Water in each container: what the tree drew, what rain and waterings brought."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from math import ceil, fsum

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import GrowingTree, Tree
from orchard.science import figures, water
from orchard.science.water import PotBalance, WateringSpan
from orchard.services.explained import Input, Number
from orchard.services.water.balance import FAO_56, share_words
from orchard.services.water.reference_et import AirDay, named
from orchard.services.water.root_zone import (
    A_DAY,
    PotWater,
    RootWater,
    pot_days,
    too_much_estimated,
)

SUBSTRATES = (
    "De Boodt, M. & Verdonck, O. (1972), Acta Horticulturae 26, 37-44; " + FAO_56
)


def container_water(roots: RootWater, tree: Tree | GrowingTree) -> PotWater:
    """Reckon one container up to the end of yesterday; once for all that are alike."""
    crown = roots.crowns.get(tree.pk)
    if tree.container_litres is None:
        return PotWater(why_not=_("No data: the size of the pot isn't on record."))
    if crown is None:
        return PotWater(why_not=_("No data: the crown width isn't measured."))
    volume, width = float(tree.container_litres), crown.width_m
    air = pot_days(roots.whole)
    # What was given before the days that are looked at changes nothing.
    begins_on = air[0].on if air else roots.today
    filled = frozenset(on for on in roots.filled(tree.pk) if on >= begins_on)
    noted = roots.poured.get(tree.pk, {})
    poured = {on: litres for on, litres in noted.items() if on >= begins_on}
    key = (volume, width, filled, tuple(poured.items()))
    if key not in roots.pots:
        roots.pots[key] = _reckon(roots, air, volume, width, filled, poured)
    return roots.pots[key]


def _reckon(
    roots: RootWater,
    air: tuple[AirDay, ...],
    volume: float,
    width: float,
    filled: frozenset[date],
    poured: Mapping[date, float],
) -> PotWater:
    total, ready = water.available_in_container(volume)
    mouth = water.mouth_area(volume)
    # "Watered" without litres means that water ran through: as much as it can miss.
    rows = [
        (
            day.on,
            need,
            (day.counted_mm or 0.0) * mouth,
            poured.get(day.on, 0.0) + (total if day.on in filled else 0.0),
        )
        for day, need in zip(air, _needs(roots, air, width), strict=True)
    ]
    days = water.certain(rows, volume)
    if not days:
        return PotWater(why_not=_why_not(roots, air))
    full_on = max(day.on for day in days if day.was_full)
    share = _estimated_share(days, air, full_on)
    if share > figures.figure("estimated_most_share").value:
        return PotWater(why_not=too_much_estimated(share, full_on))
    missing = max(0.0, days[-1].missing - poured.get(roots.today, 0.0))
    if roots.today in filled:
        missing = 0.0
    low = high = None
    if share > figures.figure("estimated_range_share").value:
        given_today = poured.get(roots.today, 0.0)
        ends = [
            max(0.0, end.missing - given_today)
            for name in ("et0_low", "et0_high")
            for end in _end(rows, _needs(roots, air, width, name), volume)
        ]
        ends = [0.0] if roots.today in filled else [*ends, missing]
        low, high = min(ends), max(ends)
    coefficient = figures.figure("pot_coefficient").value
    draw = water.litres_per_tree(roots.mean_use("et0"), coefficient, width)
    return PotWater(
        days=tuple(days),
        full_on=full_on,
        volume=volume,
        total=total,
        ready=ready,
        missing=missing,
        low=low,
        high=high,
        estimated_share=share,
        draw=draw,
        times=water.waterings_a_day(draw, volume),
        turn=_turn(missing, draw, total, was_watered=roots.today in poured),
    )


def _needs(
    roots: RootWater, air: tuple[AirDay, ...], width: float, name: str = "et0"
) -> tuple[float, ...]:
    """Return what a crown of a width would draw on each day, L.

    `name` is "et0", or an end of its range where days are estimated.
    """
    if (width, name) not in roots.pot_needs:
        coefficient = figures.figure("pot_coefficient").value
        roots.pot_needs[width, name] = tuple(
            water.litres_per_tree(
                getattr(day, name if day.is_estimated else "et0") or 0.0,
                coefficient,
                width,
            )
            for day in air
        )
    return roots.pot_needs[width, name]


def _end(
    rows: Sequence[tuple[date, float, float, float]],
    needs: Sequence[float],
    volume: float,
) -> list[PotBalance]:
    """Return the last day of a pot that drew otherwise, if it is known."""
    drawn = [
        (on, need, rain, given)
        for (on, _need, rain, given), need in zip(rows, needs, strict=True)
    ]
    return water.certain(drawn, volume)[-1:]


def _estimated_share(
    days: list[PotBalance], air: tuple[AirDay, ...], full_on: date
) -> float:
    """Return which share of what was drawn since a pot was full is estimated."""
    guessed = {day.on for day in air if day.is_estimated}
    since = [day for day in days if day.on >= full_on]
    used = fsum(day.used for day in since)
    estimated = fsum(day.used for day in since if day.on in guessed)
    return estimated / used if used else 0.0


def _turn(
    missing: float, draw: float, total: float, *, was_watered: bool
) -> WateringSpan:
    """Return when a pot is to be watered: before the day on which it runs dry."""
    due = figures.figure("pot_water_from_share").value * total
    # A pot that draws more than it holds in a day is dry again by evening: after
    # today's water it waits for tomorrow.
    if missing + draw >= due and not (was_watered and missing < due / 2):
        return WateringSpan(0, 0)
    ahead = max(1, ceil((due - missing - draw) / draw)) if draw else 1
    return WateringSpan(ahead, ahead)


def container_depletion(
    roots: RootWater, tree: Tree | GrowingTree
) -> tuple[date, float] | None:
    """Return since when, and what share of its water, a pot has used by this evening.

    None while that is not known, or where today's water was given already.
    """
    found = container_water(roots, tree)
    if found.full_on is None or found.turn is None:
        return None
    return found.full_on, found.used_share if found.turn.not_before == 0 else 0.0


def container_deficit(pot: PotWater) -> Number:
    """Return what would fill a pot again, or why that is not known."""
    what = _("Litres to fill it")
    if pot.full_on is None:
        return Number(what, None, "L", missing=pot.why_not)
    since = [day for day in pot.days if day.on > pot.full_on]
    return Number(
        what,
        pot.missing,
        "L",
        law="water.container_balance",
        method=_method(pot, pot.full_on),
        source=SUBSTRATES,
        inputs=(
            Input(_("The pot"), pot.volume, "L"),
            Input(_("Water it holds for roots"), pot.total, "L"),
            Input(_("Readily available"), pot.ready, "L"),
            Input(_("Used since"), fsum(day.used for day in since), "L"),
            Input(_("Rain in its mouth"), fsum(day.rain for day in since), "L"),
            Input(_("Used in a day"), pot.draw, "L"),
        ),
        digits=1,
    )


def _method(pot: PotWater, full_on: date) -> str:
    words = _(
        "What is missing in the mix since it was full on %(day)s; rain is counted over "
        "the pot's mouth, as if the pot were as wide as it is high."
    ) % {"day": date_format(full_on, "j M Y")}
    return f"{words} {share_words(pot.estimated_share)}".strip()


def _why_not(roots: RootWater, air: tuple[AirDay, ...]) -> str:
    broken = roots.days.get(roots.today - A_DAY)
    if not air and broken is not None:
        return _("No data for: %(days)s.") % {"days": named([broken])}
    return _(
        "No start yet: nothing on record has filled this pot. Water until it runs out "
        "below, and record it."
    )
