"""A picture of heat units since bloom, beside past years."""

from __future__ import annotations

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import Orchard
from orchard.science.units import shown
from orchard.services.heat import GroupHeat, HeatSeason
from orchard.web import charts
from orchard.web.charts import Chart, Dot, Series, Tick

Points = list[tuple[float, float]]


def heat_chart(group: GroupHeat, orchard: Orchard) -> Chart | None:
    """Draw the heat since bloom against the past years, and what past events took."""
    season = group.this_season
    if season is None or not season.sums:
        return None
    unit = shown(0.0, "°C·day", orchard.units, difference=True)[1]

    def in_own_unit(sum_: float) -> float:
        return shown(sum_, "°C·day", orchard.units, difference=True)[0]

    def points(season: HeatSeason) -> Points:
        return [
            ((on - season.bloom_on).days, in_own_unit(value))
            for on, value in season.sums
        ]

    longest = min(
        420, max(len(season.sums) + 30, *(len(past.sums) for past in group.past), 60)
    )
    past = [
        [point for point in points(earlier) if point[0] <= longest]
        for earlier in group.past
        if earlier.sums
    ]
    this = [point for point in points(season) if point[0] <= longest]
    goals = [
        (in_own_unit(event.target.value), event.name)
        for event in group.expected
        if event.target.value is not None
    ]
    highest = max(
        [this[-1][1], *(line[-1][1] for line in past), *(value for value, _ in goals)]
    )
    steps = charts.round_steps(0, highest)
    x, y = charts.x_scale(0, longest), charts.y_scale(0, steps[-1])
    lines = [
        Series(charts.polyline_points(_thin(line), x, y), "series second")
        for line in past
    ]
    lines.append(Series(charts.polyline_points(_thin(this), x, y), "series thick"))
    months = range(0, longest + 1, 60 if longest > 200 else 30)
    return Chart(
        key=f"heat-{group.group}",
        title=_("Heat since bloom, %(group)s") % {"group": group.group},
        summary=_summary(len(past))
        % {
            "sum": _difference_with_unit(season.sums[-1][1], "°C·day", orchard),
            "day": this[-1][0],
            "count": len(past),
        },
        x_axis=_("days since full bloom"),
        y_axis=unit,
        x_ticks=tuple(Tick(x.at(day), str(day)) for day in months),
        y_ticks=charts.value_ticks(y, steps),
        lines=tuple(lines),
        goals=charts.spread_labels(goals, y, lines),
        legend=_legend(past=bool(past), goals=bool(goals)),
        dots=(Dot(x.at(this[-1][0]), y.at(this[-1][1])),),
    )


def _summary(past: int) -> str:
    if not past:
        return _("%(sum)s on day %(day)d after bloom; no own past year to compare.")
    return ngettext(
        "%(sum)s on day %(day)d after bloom; dashed: %(count)d own past year.",
        "%(sum)s on day %(day)d after bloom; dashed: %(count)d own past years.",
        past,
    )


def _legend(*, past: bool, goals: bool) -> tuple[tuple[str, str], ...]:
    legend = [("series thick", _("this season"))]
    if past:
        legend.append(("series second", _("past years")))
    if goals:
        legend.append(("goal", _("what it took in past years")))
    return tuple(legend)


def _difference_with_unit(value: float, unit: str, orchard: Orchard) -> str:
    figure, unit = shown(value, unit, orchard.units, difference=True)
    return f"{number_format(round(figure), decimal_pos=0)} {unit}"


def _thin(points: Points) -> Points:
    """Return every third point and the last: no eye sees more on a phone."""
    return [*points[:-1:3], points[-1]]
