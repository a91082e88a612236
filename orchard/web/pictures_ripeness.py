"""A picture of how fruit comes ripe: sugar over acid, test by test."""

from __future__ import annotations

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from orchard.services.outlook.ripening import KindRipeness
from orchard.web import charts
from orchard.web.charts import Chart, Line
from orchard.web.pictures import Dot, Tick

FEWEST = 2
MOST_TICKS = 4


def trend(row: KindRipeness, key: str) -> Chart | None:
    """Draw sugar over acid of this season's tests, with the least that is asked."""
    tests = [one for one in reversed(row.tests) if one.ratio is not None]
    points = [(float(one.test.tested_on.toordinal()), one.ratio or 0) for one in tests]
    if len({day for day, _ratio in points}) < FEWEST:
        return None
    found = tests[-1].answer.ripeness
    asked = (
        next(
            (one.required for one in found.requirements if one.measure == "ratio"), None
        )
        if found
        else None
    )
    values = [ratio for _day, ratio in points] + ([asked] if asked else [])
    steps = charts.round_steps(min(values), max(values))
    x = charts.across(points[0][0], points[-1][0])
    y = charts.up(steps[0], steps[-1])
    # Days that lie far enough apart to be read.
    every = max(1, -(-len(tests) // MOST_TICKS))
    ticks = tuple(
        Tick(x.at(day), date_format(one.test.tested_on, "j M"))
        for (day, _ratio), one in list(zip(points, tests, strict=True))[::every]
    )
    goals = (
        [(asked, _("at least %(ratio)s:1") % {"ratio": number_format(asked, 1)})]
        if asked
        else []
    )
    said = {
        "first": number_format(points[0][1], 1),
        "last": number_format(points[-1][1], 1),
        "day": date_format(tests[0].test.tested_on, "j M Y"),
        "end": date_format(tests[-1].test.tested_on, "j M Y"),
    }
    return Chart(
        key=key,
        title=_("Sugar over acid"),
        said=_("From %(first)s:1 on %(day)s to %(last)s:1 on %(end)s.") % said,
        x_axis=_("day of the test"),
        y_axis=_("sugar over acid"),
        x_ticks=ticks,
        y_ticks=charts.level_ticks(y, steps),
        lines=(Line(charts.through(points, x, y)),),
        dots=tuple(Dot(x.at(day), y.at(ratio)) for day, ratio in points),
        goals=charts.apart(goals, y),
    )
