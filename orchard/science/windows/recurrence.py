"""From a trigger and a history to the windows in which a job is due."""

from __future__ import annotations

from datetime import date, timedelta

from orchard.science.windows.by_calendar import in_spans, intervals
from orchard.science.windows.by_event import after_event
from orchard.science.windows.by_stage import at_stage
from orchard.science.windows.history import History, Window, spans_between
from orchard.science.windows.measured import Measurements, by_measurement
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

# A span of the season year, and the time until it comes again, are no longer.
A_YEAR = timedelta(days=366)


def occurrences(
    trigger: Trigger,
    history: History,
    start: date,
    end: date,
    latitude: float,
    measured: Measurements | None = None,
) -> list[Window]:
    """List the windows of a job still to be done between two days, both included.

    A window belongs when it opens by `end` and is due no earlier than `start`; ask
    from an earlier start to find what was missed. A repeating job is never given up:
    its next window is listed however late it is. Later windows of a repeating job
    assume that each is done on its due day, so only the first is certain. `latitude`
    in degrees, north positive. Weather, soil and ripeness triggers give dates only
    with `measured`, and only for the day it speaks of: nobody knows the weather of
    next month. ValueError when end is before start, or as `season_month` for latitude.
    """
    if end < start:
        raise ValueError(f"end is {end}; it must not be before start, {start}.")
    match trigger:
        case Calendar():
            found = in_spans(trigger, history, start, end, latitude)
        case Interval():
            found = intervals(trigger, history, start, end, latitude)
        case AfterEvent():
            found = after_event(trigger, history, start, end, latitude)
        case Observed():
            event = AfterEvent(
                trigger.name,
                days=(trigger.within_days,),
                lead_days=trigger.within_days,
            )
            found = after_event(event, history, start, end, latitude)
        case AtStage():
            found = at_stage(trigger, history, start, end, latitude)
        case AnyOf():
            found = _any(trigger, history, start, end, latitude, measured)
        case AllOf():
            found = _all(trigger, history, start, end, latitude, measured)
        case Measured():
            found = _as_measured(trigger, history, end, latitude, measured)
    return sorted(found, key=lambda window: (window.due, window.occurrence))


def may_open(trigger: Trigger, start: date, end: date, latitude: float) -> bool:
    """Say whether any history at all could open a window between two days.

    Outside its spans a job need not be asked about for each tree. The days and
    `latitude` as for `occurrences`.
    """
    match trigger:
        case Calendar(spans=spans):
            return bool(spans_between(spans, start, end, latitude))
        case AfterEvent(spans=spans) | AtStage(every_days=None, spans=spans) if spans:
            return bool(spans_between(spans, start, end, latitude))
        case Measured(spans=spans) if spans:
            return bool(spans_between(spans, end, end, latitude))
        case AnyOf(triggers=parts):
            return any(may_open(part, start, end, latitude) for part in parts)
        case AllOf(triggers=parts):
            return may_open(parts[0], start, end, latitude)
        case _:
            return True


def counted_back(trigger: Trigger) -> timedelta | None:
    """Return for how long before days that are asked about what was done counts.

    `occurrences` needs no older turns of the job. None where all of them count, or the
    last, however long ago it was.
    """
    match trigger:
        case Calendar(every_days=every) if every <= A_YEAR.days:
            return A_YEAR
        case AfterEvent(every=None, then_every=None, spans=()):
            return timedelta(days=max(trigger.days))
        case AfterEvent(every=None) | AtStage(every_days=None) if trigger.spans:
            return A_YEAR
        case AfterEvent(every=None, until_days=int(until)):
            return timedelta(days=max(until, *trigger.days))
        case AtStage(every_days=None):
            return trigger.due_within
        case Observed():
            return timedelta(days=trigger.within_days)
        case AnyOf(triggers=parts):
            spans = [counted_back(part) for part in parts]
            counted = [span for span in spans if span is not None]
            return max(counted) if len(counted) == len(spans) else None
        case AllOf(triggers=parts):
            return counted_back(parts[0])
        case _:
            return None


def counts_from_last(trigger: Trigger) -> bool:
    """Say whether of all that was done only the last day opens or closes a window.

    Of triggers that join others, ask each of those.
    """
    match trigger:
        case Interval() | Measured():
            return True
        case AfterEvent(every=int(), spans=()):
            return True
        case _:
            return False


def _as_measured(
    trigger: Measured,
    history: History,
    end: date,
    latitude: float,
    measured: Measurements | None,
) -> list[Window]:
    """List what weather, soil or fruit call for; nothing while nothing is measured."""
    if measured is None:
        return []
    # What was measured stands until it is seen to, however long ago that was.
    found = by_measurement(trigger, history, measured, latitude)
    return [window for window in found if window.opens <= end]


def needs_measurement(trigger: Trigger) -> bool:
    """Say whether any part of a trigger waits for weather, soil or fruit."""
    if isinstance(trigger, AnyOf | AllOf):
        return any(needs_measurement(part) for part in trigger.triggers)
    return isinstance(trigger, Measured)


def _any(
    trigger: AnyOf,
    history: History,
    start: date,
    end: date,
    latitude: float,
    measured: Measurements | None,
) -> list[Window]:
    found: list[Window] = []
    for number, part in enumerate(trigger.triggers):
        # Done for another reason is done all the same, only not by this name.
        done = tuple(
            entry._replace(occurrence=entry.occurrence.removeprefix(f"{number}:"))
            if entry.occurrence.startswith(f"{number}:")
            else entry._replace(occurrence="")
            for entry in history.done
        )
        own = history._replace(done=done)
        found += [
            window._replace(occurrence=f"{number}:{window.occurrence}")
            for window in occurrences(part, own, start, end, latitude, measured)
        ]
    return found


def _all(
    trigger: AllOf,
    history: History,
    start: date,
    end: date,
    latitude: float,
    measured: Measurements | None,
) -> list[Window]:
    lead, *others = trigger.triggers
    found = []
    free = history._replace(done=())
    for window in occurrences(lead, history, start, end, latitude, measured):
        opens = [window.opens]
        for part in others:
            fits = occurrences(part, free, window.opens, window.due, latitude, measured)
            if not fits:
                break
            opens.append(min(other.opens for other in fits))
        else:
            opened = max(opens)
            if opened <= end:
                due = max(window.due, opened)
                found.append(window._replace(opens=opened, due=due))
    return found
