"""Pictures of the sun: its hours by month, and its way over the horizon of a spot."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from orchard.records.models import Orchard
from orchard.science.figures import figure
from orchard.services.sun_hours import Points, SunYear
from orchard.web import charts
from orchard.web.charts import Area, Bar, Chart, Series, Tick


def sun_chart(year: SunYear) -> Chart:
    """Draw the mean hours of direct sun by month against what citrus needs."""
    steps = [0, 4, 8, 12, 16]
    if max(month.open_h for month in year.months) > 16:
        steps = [0, 6, 12, 18, 24]
    y, x = charts.y_scale(0, steps[-1]), charts.x_scale(0.4, 12.6)
    width = (charts.RIGHT - charts.LEFT) / 12.2 * (0.36 if year.what_if else 0.6)
    bars: list[Bar] = []
    for month in year.months:
        middle = x.at(month.number)
        if month.then_h is None:
            bars.append(charts.value_bar(middle, width, month.hours, y))
            continue
        bars.append(charts.value_bar(middle - width / 2, width, month.hours, y))
        bars.append(
            charts.value_bar(middle + width / 2, width, month.then_h, y, "bar open")
        )
    sky = [(month.number, month.open_h) for month in year.months]
    legend = [("bar", _("here, as surveyed")), ("series second", _("under open sky"))]
    if year.what_if:
        legend.insert(1, ("bar open", _("with the wall or tree")))
    return Chart(
        key="sun",
        title=_("Direct sun by month"),
        summary=_summary(year),
        x_axis=_("month"),
        y_axis=_("h a day"),
        x_ticks=tuple(
            Tick(x.at(number), month_name(number, "M")[:3])
            for number in range(1, 13, 2)
        ),
        y_ticks=charts.value_ticks(y, steps),
        bars=tuple(bars),
        lines=(Series(charts.polyline_points(sky, x, y), "series second"),),
        goals=charts.spread_labels([(figure("sun_needed_h").value, "")], y),
        legend=(*legend, ("goal", _("needed"))),
    )


def _summary(year: SunYear) -> str:
    def hours(value: float) -> str:
        return number_format(round(value, 1), decimal_pos=1)

    least = _(
        "Least in %(month)s: %(hours)s h a day; %(needed)s h are needed in every month."
    ) % {
        "month": month_name(year.worst.number),
        "hours": hours(year.worst.hours),
        "needed": number_format(figure("sun_needed_h").value, decimal_pos=0),
    }
    then = [
        (month.then_h, month.number)
        for month in year.months
        if month.then_h is not None
    ]
    if not then:
        return least
    fewest, number = min(then)
    more = _("With the wall or tree least in %(month)s: %(hours)s h a day.")
    return f"{least} {more}" % {
        "month": month_name(number),
        "hours": hours(fewest),
    }


def month_name(number: int, form: str = "F") -> str:
    """Name a month of the calendar."""
    return date_format(date(2001, number, 1), form)


def horizon_chart(year: SunYear, orchard: Orchard) -> Chart:
    """Draw the skyline all around and the sun's way over it at three times of year."""
    south = float(orchard.latitude) < 0
    turn = 180 if south else 0

    def turned(points: Points) -> list[tuple[float, float]]:
        moved = sorted(((around - turn) % 360, height) for around, height in points)
        return [
            (0, _at_north(moved)),
            *moved,
            (360, _at_north(moved)),
        ]

    steps = [0, 30, 60, 90]
    x, y = charts.x_scale(0, 360), charts.y_scale(0, 90)
    areas = []
    if year.raised:
        areas.append(
            Area(charts.area_points(turned(year.raised)[::4], x, y), "band then")
        )
    areas.append(Area(charts.area_points(turned(year.skyline), x, y), "band"))
    lines = []
    for path in year.paths:
        moved = sorted(
            ((around - turn) % 360, height) for around, height in path.points
        )
        if not moved:
            continue
        top = max(moved, key=lambda point: point[1])
        lines.append(
            Series(
                charts.polyline_points(moved, x, y),
                "series thin",
                date_format(path.on, "j M"),
                x.at(180),
                y.at(top[1]) - 4,
                "middle",
            )
        )
    legend = [("band", _("the skyline")), ("series thin", _("the sun's way"))]
    if year.raised:
        legend.insert(1, ("band then", _("with the wall or tree")))
    names = [_("N"), _("E"), _("S"), _("W"), _("N")]
    if south:
        names = [_("S"), _("W"), _("N"), _("E"), _("S")]
    high = max((height for _around, height in year.skyline), default=0)
    return Chart(
        key="horizon",
        title=_("The horizon and the sun's way over it"),
        summary=_(
            "The skyline stands at most %(high)s° high; the lines are the sun on "
            "21 December, 20 March and 21 June."
        )
        % {"high": number_format(round(high), decimal_pos=0)},
        x_axis=_("direction"),
        y_axis=_("° high"),
        x_ticks=tuple(
            Tick(
                x.at(number * 90),
                name,
                {0: "start", 4: "end"}.get(number, "middle"),
            )
            for number, name in enumerate(names)
        ),
        y_ticks=charts.value_ticks(y, steps),
        areas=tuple(areas),
        lines=tuple(lines),
        legend=tuple(legend),
    )


def _at_north(points: Sequence[tuple[float, float]]) -> float:
    """Return the height where the turned circle closes, between its two ends."""
    if not points:
        return 0.0
    (last_x, last_y), (first_x, first_y) = points[-1], points[0]
    span = first_x + 360 - last_x
    if span <= 0:
        return first_y
    return last_y + (first_y - last_y) * (360 - last_x) / span
