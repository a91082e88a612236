"""Pictures of the outlook: the night, heat, sun by month, and the horizon."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils.formats import date_format, number_format, time_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import Orchard
from orchard.science.figures import figure
from orchard.science.measures import shown
from orchard.services.outlook.frost import FrostNight
from orchard.services.outlook.heat import GroupHeat
from orchard.services.outlook.sunlight import SunYear
from orchard.web import charts
from orchard.web.charts import Area, Bar, Chart, Line, written
from orchard.web.pictures import Dot, Tick

MOST_GOALS = 4


def night(frost: FrostNight, orchard: Orchard) -> Chart | None:
    """Draw the air from evening to sunrise, and the limits of trees it crosses."""
    curve, clock = frost.night.curve, frost.night.clock
    if curve is None or clock is None:
        return None

    def here(celsius: float) -> float:
        return shown(celsius, "°C", orchard.units)[0]

    unit = shown(0.0, "°C", orchard.units)[1]
    # Close together at first, for there the air falls fastest.
    hours = [2 + (curve.night_hours - 2) * (step / 48) ** 2 for step in range(49)]
    points = [(hour, here(curve.at(hour))) for hour in hours]
    limits = sorted({row.limit_c for row in frost.thresholds}, reverse=True)
    crossed = [one for one in limits if curve.minimum_c - 2 <= one <= curve.evening_c]
    crossed = crossed[:MOST_GOALS]
    values = [y for _x, y in points] + [here(one) for one in crossed] + [here(0.0)]
    steps = charts.round_steps(min(values), max(values))
    x, y = charts.across(2, curve.night_hours), charts.up(steps[0], steps[-1])
    trees = {row.limit_c: row.trees for row in frost.thresholds}
    goals = [
        (
            here(one),
            ngettext(
                "%(limit)s: %(count)d tree", "%(limit)s: %(count)d trees", trees[one]
            )
            % {"limit": written(one, "°C", orchard, 1), "count": trees[one]},
        )
        for one in crossed
    ]
    lines = (Line(charts.through(points, x, y)),)
    return Chart(
        key="night",
        title=_("The air through the night"),
        said=_(
            "From %(evening)s at %(start)s to %(low)s at sunrise, %(end)s; %(basis)s."
        )
        % {
            "evening": written(curve.evening_c, "°C", orchard, 1),
            "low": written(curve.minimum_c, "°C", orchard, 1),
            "start": _clock(clock.evening_at, orchard),
            "end": _clock(clock.rises_at, orchard),
            "basis": curve.basis,
        },
        x_axis=_("time of night"),
        y_axis=unit,
        x_ticks=_night_ticks(clock.sets_at, curve.night_hours, orchard, x),
        y_ticks=charts.level_ticks(y, steps),
        lines=lines,
        goals=charts.apart(goals, y, lines),
        legend=(
            ("series", _("the air")),
            ("goal", _("a limit, and its trees")),
        ),
    )


def _clock(moment: datetime, orchard: Orchard) -> str:
    return time_format(moment.astimezone(ZoneInfo(orchard.time_zone)), "H:i")


def _night_ticks(sets_at, night_hours, orchard, x) -> tuple[Tick, ...]:
    local = sets_at.astimezone(ZoneInfo(orchard.time_zone))
    moment = local.replace(minute=0, second=0, microsecond=0)
    ticks = []
    while True:
        moment += timedelta(hours=1)
        hour = (moment - local).total_seconds() / 3600
        if hour > night_hours:
            return tuple(ticks)
        if hour >= 2 and moment.hour % 3 == 0:
            ticks.append(Tick(x.at(hour), time_format(moment, "H:i")))


def heat(group: GroupHeat, orchard: Orchard) -> Chart | None:
    """Draw the heat since bloom against the past years, and what past events took."""
    season = group.this_season
    if season is None or not season.sums:
        return None
    unit = shown(0.0, "°C·day", orchard.units, difference=True)[1]

    def here(sum_: float) -> float:
        return shown(sum_, "°C·day", orchard.units, difference=True)[0]

    def drawn(one) -> list[tuple[float, float]]:
        return [((on - one.bloom_on).days, here(value)) for on, value in one.sums]

    longest = min(
        420, max(len(season.sums) + 30, *(len(past.sums) for past in group.past), 60)
    )
    past = [
        (one, [point for point in drawn(one) if point[0] <= longest])
        for one in group.past
        if one.sums
    ]
    this = [point for point in drawn(season) if point[0] <= longest]
    goals = [
        (here(one.target.value), one.name)
        for one in group.expected
        if one.target.value is not None
    ]
    highest = max(
        [this[-1][1], *(line[-1][1] for _one, line in past), *(one for one, _ in goals)]
    )
    steps = charts.round_steps(0, highest)
    x, y = charts.across(0, longest), charts.up(0, steps[-1])
    lines = [
        Line(charts.through(_thin(line), x, y), "series second") for _one, line in past
    ]
    lines.append(Line(charts.through(_thin(this), x, y), "series thick"))
    months = range(0, longest + 1, 60 if longest > 200 else 30)
    return Chart(
        key=f"heat-{group.group}",
        title=_("Heat since bloom, %(group)s") % {"group": group.group},
        said=_heat_said(len(past))
        % {
            "sum": _written_difference(season.sums[-1][1], "°C·day", orchard),
            "day": this[-1][0],
            "count": len(past),
        },
        x_axis=_("days since full bloom"),
        y_axis=unit,
        x_ticks=tuple(Tick(x.at(day), str(day)) for day in months),
        y_ticks=charts.level_ticks(y, steps),
        lines=tuple(lines),
        goals=charts.apart(goals, y, lines),
        legend=_heat_legend(past=bool(past), goals=bool(goals)),
        dots=(Dot(x.at(this[-1][0]), y.at(this[-1][1])),),
    )


def _heat_said(past: int) -> str:
    if not past:
        return _("%(sum)s on day %(day)d after bloom; no own past year to compare.")
    return ngettext(
        "%(sum)s on day %(day)d after bloom; dashed: %(count)d own past year.",
        "%(sum)s on day %(day)d after bloom; dashed: %(count)d own past years.",
        past,
    )


def _heat_legend(*, past: bool, goals: bool) -> tuple[tuple[str, str], ...]:
    legend = [("series thick", _("this season"))]
    if past:
        legend.append(("series second", _("past years")))
    if goals:
        legend.append(("goal", _("what it took in past years")))
    return tuple(legend)


def _written_difference(value: float, unit: str, orchard: Orchard) -> str:
    figure_, unit = shown(value, unit, orchard.units, difference=True)
    return f"{number_format(round(figure_), decimal_pos=0)} {unit}"


def _thin(points):
    """Keep every third point and the last: no eye sees more on a phone."""
    return [*points[:-1:3], points[-1]]


def sun_months(year: SunYear) -> Chart:
    """Draw the mean hours of direct sun by month against what citrus needs."""
    steps = [0, 4, 8, 12, 16]
    if max(month.open_h for month in year.months) > 16:
        steps = [0, 6, 12, 18, 24]
    y, x = charts.up(0, steps[-1]), charts.across(0.4, 12.6)
    width = (charts.RIGHT - charts.LEFT) / 12.2 * (0.36 if year.what_if else 0.6)
    bars: list[Bar] = []
    for month in year.months:
        middle = x.at(month.number)
        if month.then_h is None:
            bars.append(charts.standing(middle, width, month.hours, y))
            continue
        bars.append(charts.standing(middle - width / 2, width, month.hours, y))
        bars.append(
            charts.standing(middle + width / 2, width, month.then_h, y, "bar open")
        )
    sky = [(month.number, month.open_h) for month in year.months]
    legend = [("bar", _("here, as surveyed")), ("series second", _("under open sky"))]
    if year.what_if:
        legend.insert(1, ("bar open", _("with the wall or tree")))
    return Chart(
        key="sun",
        title=_("Direct sun by month"),
        said=_(
            "Least in %(month)s: %(hours)s h a day; %(needed)s h are needed in every "
            "month."
        )
        % {
            "month": month_name(year.worst.number),
            "hours": number_format(round(year.worst.hours, 1), decimal_pos=1),
            "needed": number_format(figure("sun_needed_h").value, decimal_pos=0),
        },
        x_axis=_("month"),
        y_axis=_("h a day"),
        x_ticks=tuple(
            Tick(x.at(number), month_name(number, "M")[:3])
            for number in range(1, 13, 2)
        ),
        y_ticks=charts.level_ticks(y, steps),
        bars=tuple(bars),
        lines=(Line(charts.through(sky, x, y), "series second"),),
        goals=charts.apart([(figure("sun_needed_h").value, "")], y),
        legend=(*legend, ("goal", _("needed"))),
    )


def month_name(number: int, form: str = "F") -> str:
    """Name a month of the calendar."""
    return date_format(date(2001, number, 1), form)


def horizon(year: SunYear, orchard: Orchard) -> Chart:
    """Draw the skyline all around and the sun's way over it at three times of year."""
    south = float(orchard.latitude) < 0
    turn = 180 if south else 0

    def turned(points):
        moved = sorted(((around - turn) % 360, height) for around, height in points)
        return [
            (0, _at_north(moved)),
            *moved,
            (360, _at_north(moved)),
        ]

    steps = [0, 30, 60, 90]
    x, y = charts.across(0, 360), charts.up(0, 90)
    areas = []
    if year.raised:
        areas.append(Area(charts.under(turned(year.raised)[::4], x, y), "band then"))
    areas.append(Area(charts.under(turned(year.skyline), x, y), "band"))
    lines = []
    for path in year.paths:
        moved = sorted(
            ((around - turn) % 360, height) for around, height in path.points
        )
        if not moved:
            continue
        top = max(moved, key=lambda point: point[1])
        lines.append(
            Line(
                charts.through(moved, x, y),
                "series thin",
                date_format(path.on, "j M"),
                x.at(180),
                y.at(top[1]) - 4,
                "middle",
            )
        )
    names = [_("N"), _("E"), _("S"), _("W"), _("N")]
    if south:
        names = [_("S"), _("W"), _("N"), _("E"), _("S")]
    high = max((height for _around, height in year.skyline), default=0)
    return Chart(
        key="horizon",
        title=_("The horizon and the sun's way over it"),
        said=_(
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
        y_ticks=charts.level_ticks(y, steps),
        areas=tuple(areas),
        lines=tuple(lines),
    )


def _at_north(points) -> float:
    """Return the height where the turned circle closes, between its two ends."""
    if not points:
        return 0.0
    (last_x, last_y), (first_x, first_y) = points[-1], points[0]
    span = first_x + 360 - last_x
    if span <= 0:
        return first_y
    return last_y + (first_y - last_y) * (360 - last_x) / span
