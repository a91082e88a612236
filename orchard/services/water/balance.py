"""The balance of the ground: what is missing since rain or water last filled it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Crown, Orchard, Soil, Tree, Watering
from orchard.science import figures, water
from orchard.science.water import Balance
from orchard.services import weather
from orchard.services.explained import Input, Number
from orchard.services.water.reference_et import AirDay, air_day, named

A_DAY = timedelta(days=1)
FAO_56 = (
    "Allen, R. G., Pereira, L. S., Raes, D. & Smith, M. (1998), FAO Irrigation and "
    "Drainage Paper 56"
)


def ground_balance(
    days: Sequence[AirDay], soil: Soil | None
) -> tuple[list[Balance], date | None, str]:
    """Return the root zone since the ground was last filled by rain, unwatered."""
    if soil is None:
        return [], None, _("Say first what the ground is like: loam or sand.")
    return _since_full(days, {}, soil)


def _since_full(
    days: Sequence[AirDay], given: Mapping[date, float], soil: Soil
) -> tuple[list[Balance], date | None, str]:
    """Return the balance since the ground was full for certain, or why there is none.

    Only the unbroken days up to the last one count: nothing is carried over a gap.
    """
    total, ready = water.available_water(soil.sort)
    whole = days[len(days) - _run_at_end(days) :]
    rows = [
        (day.on, day.et0 or 0.0, day.kc, day.rain_mm or 0.0, given.get(day.on, 0.0))
        for day in whole
    ]
    full_on = water.last_full(rows, total=total, ready=ready)
    if full_on is None:
        broken = [day for day in days if not day.is_whole]
        if broken:
            days_named = named(broken[-5:])
            return [], None, _("No data for: %(days)s.") % {"days": days_named}
        return (
            [],
            None,
            _(
                "In the last %(days)d days nothing on record filled the ground, so the "
                "balance has no beginning."
            )
            % {"days": len(days)},
        )
    since = [row for row in rows if row[0] > full_on]
    return water.root_zone_balance(since, total=total, ready=ready), full_on, ""


def _run_at_end(days: Sequence[AirDay]) -> int:
    """Count the whole days at the end, back to the first that is not known."""
    count = 0
    for day in reversed(days):
        if not day.is_whole:
            break
        count += 1
    return count


def depleted(
    balance: Sequence[Balance],
    full_on: date | None,
    why_not: str,
    ready: float | None,
) -> Number:
    """Return what is missing in the ground, explained, or why that is not known."""
    what = _("Missing in the ground")
    law, source = "water.root_zone_balance", FAO_56
    if not balance or full_on is None or ready is None:
        return Number(what, None, "mm", law=law, source=source, missing=why_not)
    return Number(
        what,
        balance[-1].depleted,
        "mm",
        law=law,
        method=_("Day by day since the rain of %(day)s, where nothing was watered.")
        % {"day": date_format(full_on, "j M Y")},
        source=source,
        inputs=(
            Input(_("Ready water"), ready, "mm"),
            Input(_("Used since"), math.fsum(day.used for day in balance), "mm"),
            Input(_("Rain counted"), math.fsum(day.rain for day in balance), "mm"),
        ),
        digits=1,
    )


def tree_balance(
    orchard: Orchard, tree: Tree, soil: Soil, crown: Crown, *, today: date
) -> tuple[list[Balance], str]:
    """Return the root zone of one tree in the ground, its waterings counted.

    Waterings count as rain does; litres become mm over the crown circle.
    """
    end = today - A_DAY
    start = today - figures.days("water_balance_days")
    spanned = weather.span(orchard, start, end)
    days = [air_day(orchard, day, soil.cover) for day in spanned]
    given = _mm_by_day(tree, crown, start, end)
    rows, _full_on, why_not = _since_full(days, given, soil)
    return rows, why_not


def _mm_by_day(
    tree: Tree, crown: Crown, start: date, end: date
) -> Mapping[date, float]:
    circle = math.pi / 4 * crown.width_m**2
    found: dict[date, float] = defaultdict(float)
    rows = (
        Watering.objects.current()
        .filter(tree=tree, given_on__gte=start, given_on__lte=end)
        .order_by("given_on", "id")
    )
    for row in rows:
        found[row.given_on] += row.litres / circle
    return found
