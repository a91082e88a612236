"""Jobs that weather, soil or fruit start: pure rules over what was measured."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from math import ceil
from typing import NamedTuple

from orchard.science import heat
from orchard.science.figures import days
from orchard.science.windows.history import History, Window, spans_between
from orchard.science.windows.rhythm import days_early
from orchard.science.windows.triggers import Measured

A_DAY = timedelta(days=1)


class Measurements(NamedTuple):
    """What is measured or forecast for the subject of a job; None is not known.

    `minima` and `maxima` are forecasts, °C, by the day they fall on, the spot's own
    offset already added; a night's minimum belongs to the day it ends on. `days` are
    measured: day, lowest, highest, °C, in order and without a gap. `ripe` are the
    usual first and last day of ripeness of each cultivar concerned, `ready` the day on
    which its fruit was found ready and by which it is picked, `retest_on` when
    fruit that fell short is tested again; `cover_by` is the orchard's clock an hour
    before sunset.
    """

    today: date
    minima: tuple[tuple[date, float], ...] = ()
    maxima: tuple[tuple[date, float], ...] = ()
    cover_at_c: float | None = None
    cover_by: str = ""
    days: tuple[tuple[date, float, float], ...] = ()
    soil_dry: tuple[date, float] | None = None
    depleted: tuple[date, float] | None = None
    below_shoulder: tuple[date, float] | None = None
    ripe: tuple[tuple[str, date, date], ...] = ()
    ready: tuple[tuple[str, date, date], ...] = ()
    retest_on: date | None = None
    holds_clear: bool | None = None


def by_measurement(
    trigger: Measured, history: History, measured: Measurements, latitude: float
) -> list[Window]:
    """List the windows that measurements open; none while what counts is not known.

    Within the trigger's spans only, and only as of the day of the measurements:
    nothing is foretold from a forecast that has not been made yet.
    """
    today = measured.today
    if trigger.spans and not spans_between(trigger.spans, today, today, latitude):
        return []
    find = _FINDERS[trigger.kind]
    return list(find(trigger, history, measured))


def _number(trigger: Measured, name: str, default: float) -> float:
    value = dict(trigger.settings).get(name, default)
    return float(value)


def _flag(trigger: Measured, name: str) -> bool:
    return dict(trigger.settings).get(name) is True


def _asked(trigger: Measured, name: str) -> float | None:
    value = dict(trigger.settings).get(name)
    return None if value is None else float(value)


def _done_on_or_after(history: History, day: date) -> bool:
    return any(entry.on >= day for entry in history.done)


def _cold_night(
    trigger: Measured, history: History, measured: Measurements
) -> Iterator[Window]:
    """Yield the evening before the first night that reaches the limit."""
    limit = _asked(trigger, "at_or_below_c")
    above = _asked(trigger, "above_cover_c")
    if above is not None and measured.cover_at_c is not None:
        limit = measured.cover_at_c + above
    if limit is None:
        return
    today = measured.today
    until = today + timedelta(days=ceil(_number(trigger, "ahead_h", 24) / 24))
    cold = [on for on, low in measured.minima if today < on <= until and low <= limit]
    if not cold:
        return
    if trigger.every_days is not None:
        # Somebody has to look every day, for as long as it stays cold.
        if not _done_on_or_after(history, today):
            yield Window(today, today, trigger.every_days, f"frost seen {today}")
        return
    evening = min(cold) - A_DAY
    if not _done_on_or_after(history, evening):
        name = f"night to {min(cold)}"
        yield Window(today, evening, 1, name, measured.cover_by)


def _hot_days(
    trigger: Measured, history: History, measured: Measurements
) -> Iterator[Window]:
    """Yield the time before so many hot days in a row."""
    limit = _number(trigger, "at_or_above_c", 0)
    today = measured.today
    until = today + timedelta(days=ceil(_number(trigger, "ahead_h", 24) / 24))
    hot = {on for on, high in measured.maxima if high >= limit and today <= on <= until}
    row = int(_number(trigger, "days", 1))
    starts = [
        on for on in sorted(hot) if all(on + A_DAY * step in hot for step in range(row))
    ]
    prepared = today - days("heat_prepared_days")
    if starts and not _done_on_or_after(history, prepared):
        due = max(today, starts[0] - A_DAY)
        yield Window(today, due, 1, f"heat from {starts[0]}")


def _heat_sum(
    trigger: Measured, history: History, measured: Measurements
) -> Iterator[Window]:
    """Yield the day on which the running sum of heat reached what is asked."""
    base, cap = _number(trigger, "base_c", 0), _asked(trigger, "cap_c")
    start = measured.days[0][0] if measured.days else None
    bbch = _asked(trigger, "from_bbch")
    if bbch is not None:
        noted = [day for code, day in history.stages if code == bbch]
        start = max((day for day in noted if day <= measured.today), default=None)
    measured_days = [
        row for row in measured.days if start is not None and row[0] >= start
    ]
    if start is None or not measured_days or measured_days[0][0] != start:
        return
    sums = heat.accumulate(measured_days, base, cap, start=start)
    reached = heat.reached_on(sums, _number(trigger, "sum", 0))
    if reached is not None and not _done_on_or_after(history, reached):
        due = reached + days("heat_sum_due_days")
        yield Window(reached, due, 365, f"heat since {start}")


def _dry_pot(
    trigger: Measured, history: History, measured: Measurements
) -> Iterator[Window]:
    """Yield every day of heat, and the time after the mix was or must be dry."""
    today = measured.today
    every = trigger.every_days or 1
    hot_from = _asked(trigger, "daily_from_c")
    highs = [high for on, high in measured.maxima if on == today]
    if (
        hot_from is not None
        and max(highs, default=hot_from - 1) >= hot_from
        and not _done_on_or_after(history, today)
    ):
        yield Window(today, today, every, f"hot {today}")
        return
    dry_at = _asked(trigger, "dry_at_cm")
    if dry_at is not None and measured.soil_dry is not None:
        on, depth = measured.soil_dry
        if depth >= dry_at and not _done_on_or_after(history, on):
            due = on + days("dry_pot_due_days")
            yield Window(on, due, every, f"dry {on}")
            return
    most = _asked(trigger, "depleted_share")
    if most is None or measured.depleted is None:
        return
    since, share = measured.depleted
    if share >= most and not _done_on_or_after(history, today):
        due = today + days("dry_pot_due_days")
        yield Window(today, due, every, f"dry since {since}")


def _used_up(
    trigger: Measured, history: History, measured: Measurements
) -> Iterator[Window]:
    """Yield the time after the ground's ready water is used up to the share asked."""
    if measured.depleted is None:
        return
    since, share = measured.depleted
    if share >= _number(trigger, "depleted_share", 1):
        today = measured.today
        # Water given since has been reckoned in: done before does not close it.
        if not _done_on_or_after(history, today):
            due = today + days("dry_ground_due_days")
            every = days("dry_ground_rhythm_days").days
            yield Window(today, due, every, f"dry since {since}")


def _sunk(
    trigger: Measured, history: History, measured: Measurements
) -> Iterator[Window]:
    """Yield the days after the soil was measured too low."""
    if measured.below_shoulder is None:
        return
    on, depth = measured.below_shoulder
    if depth >= _number(trigger, "below_shoulder_cm", 0) and not _done_on_or_after(
        history, on
    ):
        every = days("sunk_rhythm_days").days
        yield Window(on, on + days("sunk_due_days"), every, f"sunk {on}")


def _ripe(
    trigger: Measured, history: History, measured: Measurements
) -> Iterator[Window]:
    """Yield the tests before ripeness, or the picking once it is known."""
    found = {name: (ready, pick_by) for name, ready, pick_by in measured.ready}
    if _flag(trigger, "ready"):
        on_hold = _flag(trigger, "holds_clear") and measured.holds_clear is not True
        ready, due = max(found.values(), default=(None, None))
        if ready is None or due is None or on_hold:
            return
        if not _done_on_or_after(history, ready):
            yield Window(ready, due, days("ripe_due_days").days, f"ripe {ready}")
        return
    lead = timedelta(days=_number(trigger, "lead_days", 0))
    every = trigger.every_days or days("ripeness_test_days").days
    for name, first, last in measured.ripe:
        opens = first - lead
        if not opens <= measured.today <= last:
            continue
        if name in found and found[name][0] >= opens:
            continue
        last_test = max(
            (entry.on for entry in history.done if entry.on >= opens), default=None
        )
        if last_test is None:
            yield Window(opens, opens + timedelta(days=every), every, f"ripe {first}")
            continue
        due = last_test + timedelta(days=every)
        again = measured.retest_on
        if again is not None and last_test < again < due:
            due = again
        turn = f"ripe {first} {history.name_after(last_test)}"
        yield Window(due - timedelta(days=days_early(every)), due, every, turn)


_FINDERS = {
    "forecast_min": _cold_night,
    "forecast_max": _hot_days,
    "heat_units": _heat_sum,
    "soil_moisture": _dry_pot,
    "water_balance": _used_up,
    "soil_level": _sunk,
    "maturity": _ripe,
}
