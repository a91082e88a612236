"""How often a trigger comes round in a year, and in which months of the season."""

from __future__ import annotations

from orchard.science.windows.seasons import Span, season_of_month
from orchard.science.windows.triggers import (
    AfterEvent,
    AllOf,
    AnyOf,
    AtStage,
    Calendar,
    Interval,
    Measured,
    Trigger,
)
from orchard.science.words import Season

MONTHS = range(1, 13)
# Every month as long as the others: this counts hours of work, not days.
DAYS_OF_A_MONTH = 30
DAYS_OF_A_YEAR = 365


def turns_by_month(
    trigger: Trigger, turns: float | None, busy: tuple[Span, ...] = ()
) -> tuple[float, ...]:
    """Return how often a job comes in each season month, from the first of spring.

    `turns` are those usual in a year; without them the trigger itself must say.
    ValueError where it cannot: an event or a measurement has no calendar.
    """
    by_trigger = _by_trigger(trigger)
    if turns is None:
        if by_trigger is None:
            raise ValueError(
                f"{trigger!r} does not say how often it comes; give turns."
            )
        return by_trigger
    shares = _shares(busy) if busy else by_trigger or _shares(_spans(trigger))
    whole = sum(shares)
    return tuple(turns * share / whole for share in shares)


def rhythm_of(trigger: Trigger) -> int | None:
    """Return the days between two turns of a job that keeps an interval."""
    match trigger:
        case AnyOf() | AllOf():
            return rhythm_of(trigger.triggers[0])
        case Interval():
            return trigger.days
        case AtStage():
            return trigger.every_days
        case AfterEvent():
            return trigger.every
        case _:
            return None


def _by_trigger(trigger: Trigger) -> tuple[float, ...] | None:
    """Count the turns of what keeps to the calendar; None for anything else."""
    match trigger:
        case Calendar():
            shares = _shares(trigger.spans)
            times = len(trigger.spans) * min(1, DAYS_OF_A_YEAR / trigger.every_days)
            return tuple(times * share / sum(shares) for share in shares)
        case Interval():
            return tuple(
                share * DAYS_OF_A_YEAR / len(MONTHS) / _days_apart(trigger, month)
                for month, share in zip(MONTHS, _shares(trigger.spans), strict=True)
            )
        case _:
            return None


def _days_apart(trigger: Interval, month: int) -> int:
    winter = season_of_month(month) is Season.WINTER
    return trigger.winter_days if winter else trigger.days


def _spans(trigger: Trigger) -> tuple[Span, ...]:
    match trigger:
        case AnyOf() | AllOf():
            return _spans(trigger.triggers[0])
        case AfterEvent() | AtStage() | Measured():
            return trigger.spans
        case _:
            return ()


def _shares(spans: tuple[Span, ...]) -> tuple[float, ...]:
    """Return the share of each season month that lies in the spans; none means all."""
    if not spans:
        return (1.0,) * len(MONTHS)
    year = len(MONTHS) * DAYS_OF_A_MONTH
    days = {day % year for span in spans for day in range(*_ends(span, year))}
    return tuple(
        sum(day // DAYS_OF_A_MONTH == month - 1 for day in days) / DAYS_OF_A_MONTH
        for month in MONTHS
    )


def _ends(span: Span, year: int) -> tuple[int, int]:
    first, last = (
        (day.month - 1) * DAYS_OF_A_MONTH + min(day.day, DAYS_OF_A_MONTH) - 1
        for day in (span.first, span.last)
    )
    return first, last + 1 + (year if last < first else 0)
