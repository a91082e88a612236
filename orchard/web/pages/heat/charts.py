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

# A line that is no longer told from the others by its look alone.
LOOKS = ("series second", "series third")


def past_years_left_out(group: GroupHeat) -> int:
    """Return how many past years are not drawn unless all are asked for."""
    return max(0, sum(1 for past in group.past if past.sums) - len(LOOKS))


def heat_chart(
    group: GroupHeat, orchard: Orchard, *, all_years: bool = False
) -> Chart | None:
    """Draw the heat since bloom against the newest past years, or against all."""
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
    earlier_years = sorted(
        (earlier for earlier in group.past if earlier.sums),
        key=lambda earlier: earlier.year,
        reverse=True,
    )
    if not all_years:
        earlier_years = earlier_years[: len(LOOKS)]
    past = [
        [point for point in points(earlier) if point[0] <= longest]
        for earlier in earlier_years
    ]
    looks = dict.fromkeys(range(len(past)), LOOKS[0])
    if len(past) <= len(LOOKS):
        looks = dict(enumerate(LOOKS))
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
        Series(charts.polyline_points(_thin(line), x, y), looks[number])
        for number, line in enumerate(past)
    ]
    lines.append(Series(charts.polyline_points(_thin(this), x, y), "series thick"))
    months = range(0, longest + 1, 120 if longest > 300 else 60)
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
        x_ticks=tuple(
            Tick(x.at(day), str(day), "end" if day == longest else "middle")
            for day in months
        ),
        y_ticks=charts.value_ticks(y, steps),
        lines=tuple(lines),
        goals=charts.spread_labels(goals, y, lines),
        legend=_legend([earlier.year for earlier in earlier_years], goals=bool(goals)),
        dots=(Dot(x.at(this[-1][0]), y.at(this[-1][1])),),
    )


def _summary(past: int) -> str:
    if not past:
        return _(
            "%(sum)s on day %(day)d after bloom. No past year here to compare with."
        )
    return ngettext(
        "%(sum)s on day %(day)d after bloom, beside %(count)d past year here.",
        "%(sum)s on day %(day)d after bloom, beside %(count)d past years here.",
        past,
    )


def _legend(past: list[int], *, goals: bool) -> tuple[tuple[str, str], ...]:
    legend = [("series thick", _("this season"))]
    if len(past) <= len(LOOKS):
        legend += [(look, str(year)) for look, year in zip(LOOKS, past, strict=False)]
    else:
        legend.append((LOOKS[0], f"{past[-1]} – {past[0]}"))
    if goals:
        legend.append(("goal", _("what it took in past years")))
    return tuple(legend)


def _difference_with_unit(value: float, unit: str, orchard: Orchard) -> str:
    figure, unit = shown(value, unit, orchard.units, difference=True)
    return f"{number_format(round(figure), decimal_pos=0)} {unit}"


def _thin(points: Points) -> Points:
    """Return every third point and the last: no eye sees more on a phone."""
    return [*points[:-1:3], points[-1]]
