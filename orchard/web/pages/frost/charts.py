"""A picture of the air through a frost night."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils.formats import time_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import Orchard
from orchard.science.units import shown
from orchard.services.frost import FrostNight
from orchard.web import charts
from orchard.web.charts import Axis, Chart, Series, Tick, with_unit

MOST_GOALS = 4


def night_chart(frost: FrostNight, orchard: Orchard) -> Chart | None:
    """Draw the air from evening to sunrise, and the limits of trees it crosses."""
    curve, clock = frost.night.curve, frost.night.clock
    if curve is None or clock is None:
        return None

    def in_own_unit(celsius: float) -> float:
        return shown(celsius, "°C", orchard.units)[0]

    unit = shown(0.0, "°C", orchard.units)[1]
    # Close together at first, for there the air falls fastest.
    hours = [2 + (curve.night_hours - 2) * (step / 48) ** 2 for step in range(49)]
    points = [(hour, in_own_unit(curve.at(hour))) for hour in hours]
    limits = sorted({row.limit_c for row in frost.thresholds}, reverse=True)
    crossed = [
        limit for limit in limits if curve.minimum_c - 2 <= limit <= curve.evening_c
    ]
    crossed = crossed[:MOST_GOALS]
    values = (
        [y for _x, y in points]
        + [in_own_unit(limit) for limit in crossed]
        + [in_own_unit(0.0)]
    )
    steps = charts.round_steps(min(values), max(values))
    x, y = charts.x_scale(2, curve.night_hours), charts.y_scale(steps[0], steps[-1])
    trees = {row.limit_c: row.trees for row in frost.thresholds}
    goals = [
        (
            in_own_unit(limit),
            ngettext(
                "%(limit)s: %(count)d tree", "%(limit)s: %(count)d trees", trees[limit]
            )
            % {"limit": with_unit(limit, "°C", orchard, 1), "count": trees[limit]},
        )
        for limit in crossed
    ]
    lines = (Series(charts.polyline_points(points, x, y)),)
    return Chart(
        key="night",
        title=_("The air through the night"),
        summary=_(
            "From %(evening)s at %(start)s to %(low)s at sunrise, %(end)s; %(basis)s."
        )
        % {
            "evening": with_unit(curve.evening_c, "°C", orchard, 1),
            "low": with_unit(curve.minimum_c, "°C", orchard, 1),
            "start": _clock(clock.evening_at, orchard),
            "end": _clock(clock.rises_at, orchard),
            "basis": curve.basis,
        },
        x_axis=_("time of night"),
        y_axis=unit,
        x_ticks=_night_ticks(clock.sets_at, curve.night_hours, orchard, x),
        y_ticks=charts.value_ticks(y, steps),
        lines=lines,
        goals=charts.spread_labels(goals, y, lines),
        legend=(
            ("series", _("the air")),
            *([("goal", _("a limit, and its trees"))] if goals else []),
        ),
    )


def _clock(moment: datetime, orchard: Orchard) -> str:
    return time_format(moment.astimezone(ZoneInfo(orchard.time_zone)), "H:i")


def _night_ticks(
    sets_at: datetime, night_hours: float, orchard: Orchard, x: Axis
) -> tuple[Tick, ...]:
    local = sets_at.astimezone(ZoneInfo(orchard.time_zone))
    moment = local.replace(minute=0, second=0, microsecond=0)
    ticks: list[Tick] = []
    while True:
        moment += timedelta(hours=1)
        hour = (moment - local).total_seconds() / 3600
        if hour > night_hours:
            return tuple(ticks)
        if hour >= 2 and moment.hour % 3 == 0:
            ticks.append(Tick(x.at(hour), time_format(moment, "H:i")))
