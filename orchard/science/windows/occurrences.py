"""From a trigger and a history to the windows in which a job is due."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from orchard.science.windows.seasons import Span, season, season_year
from orchard.science.windows.triggers import (
    AfterEvent,
    AllOf,
    AnyOf,
    AtStage,
    Calendar,
    Interval,
    Measured,
    Observed,
    Trigger,
)
from orchard.science.words import Season


@dataclass(frozen=True, slots=True)
class Window:
    """When a job may be done, by when it should be, and how often it comes.

    `occurrence` names it for good: two windows of one job never share a name, and the
    same window has the same name whenever it is asked for.
    """

    opens: date
    due: date
    rhythm_days: int
    occurrence: str
    by_clock: str = ""


@dataclass(frozen=True, slots=True)
class Done:
    """A day on which the job was done; `occurrence` when it is known for which."""

    on: date
    occurrence: str = ""


@dataclass(frozen=True, slots=True)
class History:
    """What is on record about one job on one tree, block or orchard.

    `stages` are BBCH codes as logged; `flags` are standing facts of the orchard, such
    as fruit_fly_area.
    """

    done: tuple[Done, ...] = ()
    events: tuple[tuple[str, date], ...] = ()
    stages: tuple[tuple[int, date], ...] = ()
    planted_on: date | None = None
    flags: frozenset[str] = frozenset()

    @property
    def last_done(self) -> date | None:
        """Give the last day the job was done, None when it never was."""
        return max((done.on for done in self.done), default=None)

    def days_of(self, event: str) -> list[date]:
        """List the days of an event; planting counts as one."""
        days = {day for name, day in self.events if name == event}
        if event == "planted" and self.planted_on is not None:
            days.add(self.planted_on)
        return sorted(days)


def occurrences(
    trigger: Trigger, history: History, start: date, end: date, latitude: float
) -> list[Window]:
    """List the windows of a job still to be done between two days, both included.

    A window belongs when it opens by `end` and is due no earlier than `start`; ask
    from an earlier start to find what was missed. A repeating job is never given up:
    its next window is listed however late it is. Later windows of a repeating job
    assume that each is done on its due day, so only the first is certain. `latitude`
    in degrees, north positive. Weather, soil and ripeness triggers give no dates
    here. ValueError when end is before start, or as `season_month` for latitude.
    """
    if end < start:
        raise ValueError(f"end is {end}; it must not be before start, {start}.")
    match trigger:
        case Calendar():
            found = _in_spans(trigger, history, start, end, latitude)
        case Interval():
            found = _intervals(trigger, history, start, end, latitude)
        case AfterEvent():
            found = _after_event(trigger, history, start, end, latitude)
        case Observed():
            event = AfterEvent(
                trigger.name,
                days=(trigger.within_days,),
                lead_days=trigger.within_days,
            )
            found = _after_event(event, history, start, end, latitude)
        case AtStage():
            found = _at_stage(trigger, history, start, end, latitude)
        case AnyOf():
            found = _any(trigger, history, start, end, latitude)
        case AllOf():
            found = _all(trigger, history, start, end, latitude)
        case Measured():
            found = _not_by_date(trigger)
    return sorted(found, key=lambda window: (window.due, window.occurrence))


def _not_by_date(trigger: Measured) -> list[Window]:
    """Give nothing: needs weather, soil or fruit measurements.

    The one place where such a trigger stands aside. The outlook weighs its settings
    against forecast, soil and fruit, and opens the task itself.
    """
    return []


def needs_measurement(trigger: Trigger) -> bool:
    """Say whether any part of a trigger waits for weather, soil or fruit."""
    if isinstance(trigger, AnyOf | AllOf):
        return any(needs_measurement(part) for part in trigger.triggers)
    return isinstance(trigger, Measured)


def _overlaps(window: Window, start: date, end: date) -> bool:
    return window.opens <= end and window.due >= start


def _spans_between(
    spans: tuple[Span, ...], start: date, end: date, latitude: float
) -> Iterator[tuple[str, date, date, date]]:
    """Yield name, first and last day, and first day a year later, of each span."""
    years = range(season_year(start, latitude) - 1, season_year(end, latitude) + 2)
    for year in years:
        for number, span in enumerate(spans, start=1):
            first, last = span.dates(year, latitude)
            if first <= end and last >= start:
                name = f"{year}" if len(spans) == 1 else f"{year}/{number}"
                yield name, first, last, span.dates(year + 1, latitude)[0]


def _in_spans(
    trigger: Calendar, history: History, start: date, end: date, latitude: float
) -> list[Window]:
    found = []
    last_done = history.last_done or history.planted_on
    for name, first, last, again in _spans_between(trigger.spans, start, end, latitude):
        if _closed(name, first, again, history.done):
            continue
        rests = timedelta(days=trigger.every_days)
        if trigger.every_days > 366 and last_done and last_done + rests > last:
            continue
        found.append(Window(first, last, trigger.every_days, name))
    return found


def _closed(name: str, first: date, again: date, done: Iterable[Done]) -> bool:
    """Say whether a span's job is done: by name, or by a day before it comes again."""
    return any(
        one.occurrence == name if one.occurrence else first <= one.on < again
        for one in done
    )


def _interval_days(
    trigger: Interval, since: date, history: History, latitude: float
) -> int:
    days = trigger.days
    if season(since + timedelta(days=days), latitude) is Season.WINTER:
        days = trigger.winter_days
    sooner = [n for flag, n in trigger.sooner if flag in history.flags]
    return min([days, *sooner])


def _intervals(
    trigger: Interval, history: History, start: date, end: date, latitude: float
) -> list[Window]:
    last = history.last_done
    since = last or history.planted_on or start
    name = f"after {last}" if last else "first"
    found: list[Window] = []
    while True:
        days = _interval_days(trigger, since, history, latitude)
        due = since + timedelta(days=days)
        if last is None and not found:
            # Nothing on record: it is due now rather than years late.
            due = max(due, start) if history.planted_on else start
        window = Window(due - timedelta(days=days // 4), due, days, name)
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
        for _, first, last, _ in _spans_between(spans, window.due, year_on, latitude)
        if last >= window.due
    )
    first, last = nearest[0]
    if first <= window.due:
        return replace(window, opens=max(first, window.opens))
    due = min(first + timedelta(days=window.rhythm_days), last)
    return replace(window, opens=first, due=due)


def _after_event(
    trigger: AfterEvent, history: History, start: date, end: date, latitude: float
) -> list[Window]:
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
                for window in _still_open(planned, history.done)
                if _overlaps(window, start, end)
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


def _still_open(planned: list[Window], done: tuple[Done, ...]) -> list[Window]:
    """Strike out what is done: by name, else the latest window that had opened."""
    left = [
        window
        for window in planned
        if not any(one.occurrence == window.occurrence for one in done)
    ]
    for one in sorted(done, key=lambda done: done.on):
        opened = [window for window in left if window.opens <= one.on]
        if not one.occurrence and opened:
            left.remove(opened[-1])
    return left


def _series_after(
    trigger: AfterEvent, day: date, history: History, end: date
) -> Iterator[Window]:
    since = max([day, *(one.on for one in history.done if one.on >= day)])
    while True:
        age = (since - day).days
        early = trigger.change_after is None or age < trigger.change_after
        step = trigger.every if early else trigger.then_every
        if step is None:
            return
        offset = age + step
        if trigger.until_days is not None and offset > trigger.until_days:
            return
        window = _offset_window(trigger, day, offset, step)
        if window.opens > end:
            return
        yield window
        since = window.due


def _spans_after(
    trigger: AfterEvent,
    day: date,
    history: History,
    start: date,
    end: date,
    latitude: float,
) -> Iterator[Window]:
    until = day + timedelta(days=trigger.until_days or 0)
    for name, first, last, again in _spans_between(trigger.spans, start, end, latitude):
        opens, due = max(first, day), min(last, until)
        if opens <= due and not _closed(name, first, again, history.done):
            yield Window(opens, due, 365, name)


def _at_stage(
    trigger: AtStage, history: History, start: date, end: date, latitude: float
) -> list[Window]:
    entries = _entries(trigger, history)
    if trigger.every_days is None and trigger.spans:
        return _once_in_span(trigger, entries, history, start, end, latitude)
    found: list[Window] = []
    for first, last in entries:
        name = f"bbch {trigger.low}-{trigger.high} {first}"
        if trigger.every_days is None:
            due = first + timedelta(days=trigger.within_days)
            planned = [Window(first, due, max(1, trigger.within_days), name)]
            found += [
                window
                for window in _still_open(planned, history.done)
                if _overlaps(window, start, end)
            ]
        else:
            found += _through_stage(trigger, name, first, last, history, start, end)
    if trigger.spans:
        found = [
            window
            for window in found
            if list(_spans_between(trigger.spans, window.due, window.due, latitude))
        ]
    return found


def _entries(trigger: AtStage, history: History) -> list[tuple[date, date]]:
    """Pair the days on which the stage was entered and (at the latest) left."""
    longest = timedelta(weeks=trigger.max_weeks)
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
    since = max([first, *(one.on for one in history.done if first <= one.on <= last)])
    opens = since if since == first else since + timedelta(days=1)
    while opens <= min(end, last):
        due = min(since + timedelta(days=step), max(last, opens))
        if due >= start:
            yield Window(opens, due, step, f"{name} +{(due - first).days}")
        since, opens = due, due + timedelta(days=1)


def _once_in_span(
    trigger: AtStage,
    entries: list[tuple[date, date]],
    history: History,
    start: date,
    end: date,
    latitude: float,
) -> list[Window]:
    found = []
    for name, first, last, again in _spans_between(trigger.spans, start, end, latitude):
        if _closed(name, first, again, history.done):
            continue
        seen = [day for day, _ in entries if first <= day <= last]
        # Nobody logged the stage: the span alone must not let the job be forgotten.
        found.append(Window(min(seen, default=first), last, 365, name))
    return found


def _any(
    trigger: AnyOf, history: History, start: date, end: date, latitude: float
) -> list[Window]:
    found: list[Window] = []
    for number, part in enumerate(trigger.triggers):
        done = tuple(
            replace(one, occurrence=one.occurrence.partition(":")[2])
            if one.occurrence
            else one
            for one in history.done
            if not one.occurrence or one.occurrence.startswith(f"{number}:")
        )
        own = replace(history, done=done)
        found += [
            replace(window, occurrence=f"{number}:{window.occurrence}")
            for window in occurrences(part, own, start, end, latitude)
        ]
    return found


def _all(
    trigger: AllOf, history: History, start: date, end: date, latitude: float
) -> list[Window]:
    lead, *others = trigger.triggers
    found = []
    free = replace(history, done=())
    for window in occurrences(lead, history, start, end, latitude):
        opens = [window.opens]
        for part in others:
            fits = occurrences(part, free, window.opens, window.due, latitude)
            if not fits:
                break
            opens.append(min(other.opens for other in fits))
        else:
            opened = max(opens)
            if opened <= end:
                due = max(window.due, opened)
                found.append(replace(window, opens=opened, due=due))
    return found
