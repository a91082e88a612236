"""Jobs that follow something that happened."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from orchard.science.windows.history import (
    History,
    Window,
    is_closed,
    overlaps,
    spans_between,
    still_open,
)
from orchard.science.windows.triggers import AfterEvent


def after_event(
    trigger: AfterEvent, history: History, start: date, end: date, latitude: float
) -> list[Window]:
    """List the windows that an event opens."""
    found: list[Window] = []
    for day in history.days_of(trigger.event):
        if day > end:
            continue
        if trigger.spans:
            found += _spans_after(trigger, day, history, start, end, latitude)
        elif trigger.every is not None:
            found += _series_after(trigger, day, history, end)
        else:
            planned = list(_days_after(trigger, day, end))
            found += [
                window
                for window in still_open(planned, history.done)
                if overlaps(window, start, end)
            ]
    return found


def _days_after(trigger: AfterEvent, day: date, end: date) -> Iterator[Window]:
    offset = before = 0
    for offset in trigger.days:
        yield _offset_window(trigger, day, offset, max(1, offset - before))
        before = offset
    while trigger.then_every is not None:
        offset += trigger.then_every
        if trigger.until_days is not None and offset > trigger.until_days:
            return
        window = _offset_window(trigger, day, offset, trigger.then_every)
        if window.opens > end:
            return
        yield window


def _offset_window(trigger: AfterEvent, day: date, offset: int, rhythm: int) -> Window:
    due = day + timedelta(days=offset)
    opens = max(day, due - timedelta(days=trigger.lead_days))
    name = f"{trigger.event} {day} +{offset}"
    return Window(opens, due, rhythm, name, trigger.by_clock)


def _series_after(
    trigger: AfterEvent, day: date, history: History, end: date
) -> Iterator[Window]:
    since = max([day, *(entry.on for entry in history.done if entry.on >= day)])
    name = f"{trigger.event} {day} {history.name_after(since)}"
    while True:
        age = (since - day).days
        early = trigger.change_after is None or age < trigger.change_after
        step = trigger.every if early else trigger.then_every
        if step is None:
            return
        if trigger.until_days is not None and age + step > trigger.until_days:
            return
        due = since + timedelta(days=step)
        opens = max(day, due - timedelta(days=trigger.lead_days))
        if opens > end:
            return
        yield Window(opens, due, step, name, trigger.by_clock)
        since, name = due, f"{trigger.event} {day} after {due}"


def _spans_after(
    trigger: AfterEvent,
    day: date,
    history: History,
    start: date,
    end: date,
    latitude: float,
) -> Iterator[Window]:
    until = day + timedelta(days=trigger.until_days or 0)
    for name, first, last, again in spans_between(trigger.spans, start, end, latitude):
        opens, due = max(first, day), min(last, until)
        if opens <= due and not is_closed(name, first, again, history.done):
            yield Window(opens, due, 365, name)
