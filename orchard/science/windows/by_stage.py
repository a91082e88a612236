"""Jobs that go with a growth stage of the tree."""

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
from orchard.science.windows.triggers import AtStage


def at_stage(
    trigger: AtStage, history: History, start: date, end: date, latitude: float
) -> list[Window]:
    """List the windows that a logged growth stage opens."""
    entries = _entries(trigger, history)
    if trigger.every_days is None and trigger.spans:
        return _once_in_span(trigger, entries, history, start, end, latitude)
    found: list[Window] = []
    for first, last in entries:
        name = f"bbch {trigger.low}-{trigger.high} {first}"
        if trigger.every_days is None:
            within = trigger.due_within
            planned = [Window(first, first + within, max(1, within.days), name)]
            found += [
                window
                for window in still_open(planned, history.done)
                if overlaps(window, start, end)
            ]
        else:
            found += _through_stage(trigger, name, first, last, history, start, end)
    if trigger.spans:
        found = [
            window
            for window in found
            if spans_between(trigger.spans, window.due, window.due, latitude)
        ]
    return found


def _entries(trigger: AtStage, history: History) -> list[tuple[date, date]]:
    """Pair the days on which the stage was entered and (at the latest) left."""
    longest = trigger.longest
    entries: list[tuple[date, date]] = []
    entered: date | None = None
    for code, day in sorted(history.stages, key=lambda logged: (logged[1], logged[0])):
        within = trigger.low <= code <= trigger.high
        if entered is not None and day > entered + longest:
            entries.append((entered, entered + longest))
            entered = None
        if within and entered is None:
            entered = day
        elif not within and entered is not None:
            entries.append((entered, day))
            entered = None
    if entered is not None:
        entries.append((entered, entered + longest))
    return entries


def _through_stage(
    trigger: AtStage,
    name: str,
    first: date,
    last: date,
    history: History,
    start: date,
    end: date,
) -> Iterator[Window]:
    step = trigger.every_days or 1
    within = [entry.on for entry in history.done if first <= entry.on <= last]
    since = max(within, default=first)
    opens = since + timedelta(days=1) if within else first
    this = f"{name} {history.name_after(since) if within else 'first'}"
    while opens <= min(end, last):
        due = min(since + timedelta(days=step), max(last, opens))
        if due >= start:
            yield Window(opens, due, step, this)
        since, opens = due, due + timedelta(days=1)
        this = f"{name} after {due}"


def _once_in_span(
    trigger: AtStage,
    entries: list[tuple[date, date]],
    history: History,
    start: date,
    end: date,
    latitude: float,
) -> list[Window]:
    found = []
    for name, first, last, again in spans_between(trigger.spans, start, end, latitude):
        if is_closed(name, first, again, history.done):
            continue
        seen = [day for day, _ in entries if first <= day <= last]
        # Nobody logged the stage: the span alone must not let the job be forgotten.
        found.append(Window(min(seen, default=first), last, 365, name))
    return found
