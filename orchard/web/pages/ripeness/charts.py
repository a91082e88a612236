"""A picture of how fruit comes ripe, test by test, by what its standard asks for."""

from __future__ import annotations

from collections.abc import Callable

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from orchard.services.fruit import MaturityReading
from orchard.services.ripeness import KindRipeness
from orchard.web import charts
from orchard.web.charts import Chart, Dot, Line, Tick
from orchard.web.pages.ripeness.wording import measure_word

FEWEST = 2
MOST_TICKS = 4
READ: dict[str, Callable[[MaturityReading], float | None]] = {
    "ratio": lambda tested: tested.ratio,
    "juice": lambda tested: tested.juice,
    "brix": lambda tested: tested.brix,
}


def trend(row: KindRipeness, key: str) -> Chart | None:
    """Draw what the kind's standard asks for first, and the least of it."""
    measure, asked = _asked(row)
    read = READ[measure]
    tests = [(one, value) for one in reversed(row.tests) if (value := read(one))]
    points = [(float(one.test.tested_on.toordinal()), value) for one, value in tests]
    if len({day for day, _value in points}) < FEWEST:
        return None
    values = [value for _day, value in points] + ([asked] if asked else [])
    steps = charts.round_steps(min(values), max(values))
    x = charts.across(points[0][0], points[-1][0])
    y = charts.up(steps[0], steps[-1])
    word, unit = (
        measure_word(measure),
        {"juice": " %", "brix": " °Brix"}.get(measure, ""),
    )

    def told(value: float) -> str:
        return f"{number_format(round(value, 1), decimal_pos=1)}{unit}"

    goals = [(asked, _("at least %(value)s") % {"value": told(asked)})] if asked else []
    said = {
        "what": word[:1].upper() + word[1:],
        "first": told(points[0][1]),
        "last": told(points[-1][1]),
        "day": date_format(tests[0][0].test.tested_on, "j M Y"),
        "end": date_format(tests[-1][0].test.tested_on, "j M Y"),
    }
    return Chart(
        key=key,
        title=said["what"],
        said=_("%(what)s: from %(first)s on %(day)s to %(last)s on %(end)s.") % said,
        x_axis=_("day of the test"),
        y_axis=f"{word}{unit and ',' + unit}",
        x_ticks=tuple(_ticks([one for one, _value in tests], x)),
        y_ticks=charts.level_ticks(y, steps),
        lines=(Line(charts.through(points, x, y)),),
        dots=tuple(Dot(x.at(day), y.at(value)) for day, value in points),
        goals=charts.apart(goals, y),
    )


def _asked(row: KindRipeness) -> tuple[str, float | None]:
    """Return the measure that is drawn, and the least of it that is asked for."""
    found = row.tests[0].answer.ripeness if row.tests else None
    if found is not None:
        least = {one.measure: one.required for one in found.requirements}
        for measure in READ:
            if measure in least:
                return measure, least[measure]
    return "brix", None


def _ticks(tests: list[MaturityReading], x: charts.Scale) -> list[Tick]:
    """Name days that lie far enough apart, those at the edges turned inwards."""
    every = max(1, -(-len(tests) // MOST_TICKS))
    ticks = []
    for number, one in list(enumerate(tests))[::every]:
        day = one.test.tested_on
        edge = {0: "start", len(tests) - 1: "end"}.get(number, "middle")
        ticks.append(Tick(x.at(float(day.toordinal())), date_format(day, "j M"), edge))
    return ticks
