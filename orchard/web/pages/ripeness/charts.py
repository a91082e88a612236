"""A picture of how fruit comes ripe, test by test, by what its standard asks for."""

from __future__ import annotations

from collections.abc import Callable

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from orchard.services.fruit import MaturityReading
from orchard.services.ripeness import KindRipeness
from orchard.web import charts
from orchard.web.charts import Chart, Dot, Series, Tick
from orchard.web.pages.ripeness.wording import measure_word

FEWEST = 2
MOST_TICKS = 4
READ: dict[str, Callable[[MaturityReading], float | None]] = {
    "ratio": lambda reading: reading.ratio,
    "juice": lambda reading: reading.juice,
    "brix": lambda reading: reading.brix,
}


def trend_chart(row: KindRipeness, key: str) -> Chart | None:
    """Draw what the kind's standard asks for first, and the least of it."""
    measure, asked = _asked(row)
    read = READ[measure]
    tests = [
        (reading, value) for reading in reversed(row.tests) if (value := read(reading))
    ]
    points = [
        (float(reading.test.tested_on.toordinal()), value) for reading, value in tests
    ]
    if len({day for day, _value in points}) < FEWEST:
        return None
    values = [value for _day, value in points] + ([asked] if asked else [])
    steps = charts.round_steps(min(values), max(values))
    x = charts.x_scale(points[0][0], points[-1][0])
    y = charts.y_scale(steps[0], steps[-1])
    word, unit = (
        measure_word(measure),
        {"juice": " %", "brix": " °Brix"}.get(measure, ""),
    )

    def with_unit(value: float) -> str:
        return f"{number_format(round(value, 1), decimal_pos=1)}{unit}"

    goals = (
        [(asked, _("at least %(value)s") % {"value": with_unit(asked)})]
        if asked
        else []
    )
    words = {
        "what": word[:1].upper() + word[1:],
        "first": with_unit(points[0][1]),
        "last": with_unit(points[-1][1]),
        "day": date_format(tests[0][0].test.tested_on, "j M Y"),
        "end": date_format(tests[-1][0].test.tested_on, "j M Y"),
    }
    return Chart(
        key=key,
        title=words["what"],
        summary=_("%(what)s: from %(first)s on %(day)s to %(last)s on %(end)s.")
        % words,
        x_axis=_("day of the test"),
        y_axis=f"{word}{unit and ',' + unit}",
        x_ticks=tuple(_ticks([reading for reading, _value in tests], x)),
        y_ticks=charts.value_ticks(y, steps),
        lines=(Series(charts.polyline_points(points, x, y)),),
        dots=tuple(Dot(x.at(day), y.at(value)) for day, value in points),
        goals=charts.spread_labels(goals, y),
    )


def _asked(row: KindRipeness) -> tuple[str, float | None]:
    """Return the measure that is drawn, and the least of it that is asked for."""
    found = row.tests[0].answer.ripeness if row.tests else None
    if found is not None:
        least = {rule.measure: rule.required for rule in found.requirements}
        for measure in READ:
            if measure in least:
                return measure, least[measure]
    return "brix", None


def _ticks(tests: list[MaturityReading], x: charts.Axis) -> list[Tick]:
    """Name days that lie far enough apart, those at the edges turned inwards."""
    every = max(1, -(-len(tests) // MOST_TICKS))
    ticks = []
    for number, reading in list(enumerate(tests))[::every]:
        day = reading.test.tested_on
        edge = {0: "start", len(tests) - 1: "end"}.get(number, "middle")
        ticks.append(Tick(x.at(float(day.toordinal())), date_format(day, "j M"), edge))
    return ticks
