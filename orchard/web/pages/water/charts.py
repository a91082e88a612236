"""Pictures of water: what ground and pots lost and got, and what is missing in them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Orchard
from orchard.science.units import shown
from orchard.science.water import PotBalance
from orchard.services.water import TreeGround, WaterSchedule
from orchard.web import charts
from orchard.web.charts import Bar, Chart, Series, Tick

DAYS_DRAWN = 30
DIGITS = {"mm": 0, "in": 2, "L": 1, "gal": 1}


class _Words(NamedTuple):
    """The words of a picture: its title, its sentence, and its three marks."""

    title: str
    summary: str
    goal: str
    used: str
    brought: str
    missing: str


class _DayDrawn(NamedTuple):
    """One day as it is drawn, in the unit of the picture."""

    on: date
    used: float
    brought: float
    missing: float


def orchard_chart(schedule: WaterSchedule, orchard: Orchard) -> Chart | None:
    """Draw the ground of the tree in the ground that is to be watered first."""
    words = _Words(
        _("Water in the ground"),
        _(
            "Missing on %(day)s: %(amount)s, where it is driest. Roots feel it from "
            "%(ready)s on."
        ),
        _("ready water is used up"),
        _("used by the trees"),
        _("rain and water given"),
        _("missing in the ground"),
    )
    rows = [
        _DayDrawn(row.on, row.used, row.rain + row.watered, row.depleted)
        for row in schedule.balance
    ]
    return _chart(rows, schedule.ready_mm, "mm", words, orchard)


def tree_chart(ground: TreeGround, orchard: Orchard) -> Chart | None:
    """Draw the ground or the pot of one tree, its waterings counted."""
    brought = _("rain and water given")
    used, goal = _("used by the tree"), _("ready water is used up")
    summary = _("Missing on %(day)s: %(amount)s. Roots feel it from %(ready)s on.")
    if ground.pot is not None:
        taken_in = _("rain and water the mix took in")
        words = _Words(
            _("Water in the pot"),
            summary,
            goal,
            used,
            taken_in,
            _("missing in the pot"),
        )
        rows = _pot_days(ground.pot.days)
        return _chart(rows, ground.pot.ready, "L", words, orchard)
    words = _Words(
        _("Water in the ground"),
        summary,
        goal,
        used,
        brought,
        _("missing in the ground"),
    )
    rows = [
        _DayDrawn(row.on, row.used, row.rain + row.watered, row.depleted)
        for row in ground.balance
    ]
    return _chart(rows, ground.ready_mm, "mm", words, orchard)


def _pot_days(days: Sequence[PotBalance]) -> list[_DayDrawn]:
    """Return days without what ran through below, which would dwarf all the rest.

    How much the mix took in on the first day is not known: only that it was full then.
    """
    rows = [
        _DayDrawn(
            row.on,
            row.used,
            max(0.0, row.rain + row.watered - row.drained),
            row.missing,
        )
        for row in days
    ]
    return [row._replace(brought=0.0) for row in rows[:1]] + rows[1:]


def _chart(
    days: Sequence[_DayDrawn],
    ready: float | None,
    measured_in: str,
    words: _Words,
    orchard: Orchard,
) -> Chart | None:
    """Draw what was lost and got day by day as bars, what is missing as a line."""
    rows = days[-DAYS_DRAWN:]
    if not rows or ready is None:
        return None
    unit = shown(0.0, measured_in, orchard.units)[1]
    digits = DIGITS[unit]

    def in_own_unit(amount: float) -> float:
        return shown(amount, measured_in, orchard.units)[0]

    tallest = max(max(row.brought, row.used, row.missing) for row in rows)
    steps = charts.round_steps(0, in_own_unit(max(ready, tallest)))
    y = charts.y_scale(0, steps[-1])
    x = charts.x_scale(-0.6, len(rows) - 0.4)
    width = (charts.RIGHT - charts.LEFT) / len(rows) * 0.38
    bars: list[Bar] = []
    for place, row in enumerate(rows):
        left, right = x.at(place) - width / 2, x.at(place) + width / 2
        bars.append(charts.value_bar(left, width, in_own_unit(row.used), y))
        if row.brought:
            bars.append(
                charts.value_bar(right, width, in_own_unit(row.brought), y, "bar open")
            )
    level = [(place, in_own_unit(row.missing)) for place, row in enumerate(rows)]
    lines = (Series(charts.polyline_points(level, x, y), "series"),)
    return Chart(
        key="water",
        title=words.title,
        summary=words.summary
        % {
            "day": date_format(rows[-1].on, "j M"),
            "amount": charts.with_unit(rows[-1].missing, measured_in, orchard, digits),
            "ready": charts.with_unit(ready, measured_in, orchard, digits),
        },
        x_axis=_("day"),
        y_axis=unit,
        x_ticks=tuple(
            Tick(x.at(place), date_format(row.on, "j M"))
            for place, row in enumerate(rows)
            if place % max(1, len(rows) // 4) == 0
        ),
        y_ticks=charts.value_ticks(y, steps),
        bars=tuple(bars),
        lines=lines,
        goals=charts.spread_labels([(in_own_unit(ready), words.goal)], y, lines),
        legend=(
            ("bar", words.used),
            ("bar open", words.brought),
            ("series", words.missing),
        ),
    )
