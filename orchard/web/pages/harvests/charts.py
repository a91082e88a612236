"""A picture of what was picked, year by year."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from orchard.records.models import Orchard
from orchard.science.units import shown
from orchard.services.harvests import Yield
from orchard.services.quantities import quantity
from orchard.web import charts
from orchard.web.charts import Chart, Tick

FEWEST = 2
MOST_YEARS = 10


def yearly_chart(by_year: Sequence[Yield], orchard: Orchard) -> Chart | None:
    """Draw the weight of fruit of the last years, a bar each; not of one year alone."""
    rows = [row for row in by_year if row.kg > 0][-MOST_YEARS:]
    if len(rows) < FEWEST:
        return None
    unit = shown(0.0, "kg", orchard.units)[1]
    values = [shown(row.kg, "kg", orchard.units)[0] for row in rows]
    steps = charts.round_steps(0.0, max(values))
    y = charts.y_scale(steps[0], steps[-1])
    first, last = rows[0].year, rows[-1].year
    x = charts.x_scale(first - 0.5, last + 0.5)
    width = (charts.RIGHT - charts.LEFT) / (last - first + 1)
    best = max(rows, key=lambda row: row.kg)
    return Chart(
        key="yields",
        title=_("Fruit picked in each year"),
        summary=_("From %(first)s to %(last)s; most in %(best)s, %(kg)s.")
        % {
            "first": first,
            "last": last,
            "best": best.year,
            "kg": quantity(best.kg, "kg", orchard.units),
        },
        x_axis=_("year"),
        y_axis=unit,
        x_ticks=tuple(Tick(x.at(row.year), str(row.year)[-4:]) for row in rows),
        y_ticks=charts.value_ticks(y, steps),
        bars=tuple(
            charts.value_bar(x.at(row.year), width * 0.6, value, y)
            for row, value in zip(rows, values, strict=True)
        ),
    )
