"""Jobs that come with the season year, or so many days after the last time."""

from __future__ import annotations

from datetime import date, timedelta

from orchard.science.windows.history import History, Window, is_closed, spans_between
from orchard.science.windows.rhythm import days_early
from orchard.science.windows.seasons import Span, season
from orchard.science.windows.triggers import Calendar, Interval
from orchard.science.words import Season


def in_spans(
    trigger: Calendar, history: History, start: date, end: date, latitude: float
) -> list[Window]:
    """List the spans in which the job is still to be done."""
    found = []
    last_done = history.last_done or history.planted_on
    for name, first, last, again in spans_between(trigger.spans, start, end, latitude):
        if is_closed(name, first, again, history.done):
            continue
        rests = timedelta(days=trigger.every_days)
        if trigger.every_days > 366 and last_done and last_done + rests > last:
            continue
        found.append(Window(first, last, trigger.every_days, name))
    return found


def _interval_days(
    trigger: Interval, since: date, history: History, latitude: float
) -> int:
    days = trigger.days
    if season(since + timedelta(days=days), latitude) is Season.WINTER:
        days = trigger.winter_days
    sooner = [n for flag, n in trigger.sooner if flag in history.flags]
    return min([days, *sooner])


def intervals(
    trigger: Interval, history: History, start: date, end: date, latitude: float
) -> list[Window]:
    """List when the job comes round again, however late the first is."""
    last = history.last_done
    since = last or history.planted_on or start
    name = history.name_after(since)
    found: list[Window] = []
    while True:
        days = _interval_days(trigger, since, history, latitude)
        due = since + timedelta(days=days)
        if last is None and not found:
            # Nothing on record: it is due now rather than years late.
            due = max(due, start) if history.planted_on else start
        opens = due - timedelta(days=days_early(days))
        window = Window(opens, due, days, name)
        if trigger.spans:
            window = _moved_into(trigger.spans, window, latitude)
        if window.opens > end or (found and window.due > end):
            return found
        found.append(window)
        since, name = window.due, f"after {window.due}"


def _moved_into(spans: tuple[Span, ...], window: Window, latitude: float) -> Window:
    """Keep a window inside spans: a due day between them waits for the next opening."""
    year_on = window.due + timedelta(days=400)
    nearest = sorted(
        (first, last)
        for _, first, last, _ in spans_between(spans, window.due, year_on, latitude)
        if last >= window.due
    )
    first, last = nearest[0]
    if first <= window.due:
        return window._replace(opens=max(first, window.opens))
    due = min(first + timedelta(days=window.rhythm_days), last)
    return window._replace(opens=first, due=due)
