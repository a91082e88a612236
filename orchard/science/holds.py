"""When may one enter, when may one pick: label intervals and the clock."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo

from orchard.science import arguments, figures

_LONGEST_ENTRY_H = 24.0 * 90
_LONGEST_HARVEST_DAYS = 730


@dataclass(frozen=True, slots=True)
class Applied:
    """What a treatment's label says of one tree, as typed from the container in hand.

    `ended_at` is None while the work still goes on; an interval is None when the
    label's figure has not been recorded. `zone` is the orchard's time zone.
    """

    name: str
    ended_at: datetime | None
    entry_hours: float | None
    harvest_days: int | None
    zone: tzinfo


@dataclass(frozen=True, slots=True)
class HoldEnd:
    """When one treatment's hold ends, in UTC; None when that is not known."""

    name: str
    ends_at: datetime | None


@dataclass(frozen=True, slots=True)
class Hold:
    """Whether something is held now, and by what.

    `until` is the latest end that is known, in UTC. When `unknown` is true a figure is
    missing, nothing opens by itself, and `until` is only the earliest it could be.
    `endings` lists every treatment that still holds, the latest first.
    """

    active: bool
    until: datetime | None
    unknown: bool
    endings: tuple[HoldEnd, ...]


@dataclass(frozen=True, slots=True)
class Holds:
    """The entry hold and the harvest hold of one tree."""

    entry: Hold
    harvest: Hold


def entry_ends(applied_end: datetime, hours: float) -> datetime:
    """Return when the treated place may be entered.

    Parameters
    ----------
    applied_end : moment the application ended, with its time zone
    hours : the label's entry interval, h, 0 to 2160

    Returns
    -------
    Moment in the same zone, so many elapsed hours later: right across a change of the
    clock.

    Raises
    ------
    ValueError
        When the moment has no time zone or the interval is missing or out of range.

    References
    ----------
    US 40 CFR 170.305: the interval begins when the application ends. Read in an older
    text (170.3). The product's label always comes first.
    """
    ended = arguments.moment("applied_end", applied_end)
    interval = arguments.number(
        "hours", hours, "h", at_least=0.0, at_most=_LONGEST_ENTRY_H
    )
    elapsed = ended.astimezone(UTC) + timedelta(hours=interval)
    return elapsed.astimezone(ended.tzinfo)


def harvest_opens(applied_end: datetime, days: int, zone: tzinfo) -> datetime:
    """Return when fruit may be picked again, by the harvest interval alone.

    Parameters
    ----------
    applied_end : moment the application ended, with its time zone
    days : the label's harvest interval, whole days, 0 to 730
    zone : the orchard's time zone

    Returns
    -------
    Moment in that zone: the same time on the clock, so many calendar days later.

    Raises
    ------
    ValueError
        When the moment has no time zone or the interval is missing, a fraction or out
        of range.

    Notes
    -----
    The stricter reading of a label's days, a convention of this book. Where the clock
    shows that time twice the later counts; where it skips it, the moment just after.
    The entry hold must be over too: see `current`.
    """
    ended = arguments.moment("applied_end", applied_end).astimezone(zone)
    interval = arguments.whole("days", days, "days", at_most=_LONGEST_HARVEST_DAYS)
    on_clock = ended.replace(tzinfo=None) + timedelta(days=interval)
    readings = (on_clock.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    return max(moment.astimezone(UTC) for moment in readings).astimezone(zone)


def current(treatments: Iterable[Applied], now: datetime) -> Holds:
    """Return what is held at a moment, the worst over all treatments of a tree.

    Parameters
    ----------
    treatments : all treatments of the tree, in any order
    now : the moment asked about, with its time zone

    Returns
    -------
    Holds. Picking needs both clocks to have run out. A missing figure, or work that
    has not ended, is unknown and locked, never 0. At the very moment a hold ends it
    is over.

    Raises
    ------
    ValueError
        When a moment has no time zone or an interval is out of range.

    References
    ----------
    The longest of several intervals holds: US 40 CFR 170.112(a)(3), read in an older
    text.
    """
    moment = arguments.moment("now", now).astimezone(UTC)
    entry: list[HoldEnd] = []
    harvest: list[HoldEnd] = []
    for applied in treatments:
        may_enter = may_pick = None
        if applied.ended_at is not None:
            if applied.entry_hours is not None:
                ends = entry_ends(applied.ended_at, applied.entry_hours)
                may_enter = ends.astimezone(UTC)
            if applied.harvest_days is not None:
                opens = harvest_opens(
                    applied.ended_at, applied.harvest_days, applied.zone
                )
                may_pick = opens.astimezone(UTC)
        entry.append(HoldEnd(applied.name, may_enter))
        both = (
            None if may_enter is None or may_pick is None else max(may_enter, may_pick)
        )
        harvest.append(HoldEnd(applied.name, both))
    return Holds(entry=_worst(entry, moment), harvest=_worst(harvest, moment))


def _worst(endings: list[HoldEnd], now: datetime) -> Hold:
    unknown = [ending for ending in endings if ending.ends_at is None]
    ends = [
        (ending.ends_at, ending)
        for ending in endings
        if ending.ends_at is not None and ending.ends_at > now
    ]
    ends.sort(key=lambda pair: pair[0], reverse=True)
    return Hold(
        active=bool(unknown or ends),
        until=ends[0][0] if ends else None,
        unknown=bool(unknown),
        endings=(*unknown, *(ending for _, ending in ends)),
    )


def record_due_on(applied_on: date) -> date:
    """Return the last day for writing up an application of a restricted product.

    US 7 CFR 110.3: within 14 days (read); where local rules ask for less, they win.
    """
    days = int(figures.figure("record_within_days").value)
    return arguments.day("applied_on", applied_on) + timedelta(days=days)


def record_kept_until(applied_on: date) -> date:
    """Return the day until which that record is kept at least.

    US 7 CFR 110.3: two years (read); from 29 February, until 1 March. This book itself
    never erases; local rules may ask for longer.
    """
    on = arguments.day("applied_on", applied_on)
    year = on.year + int(figures.figure("record_kept_years").value)
    try:
        return on.replace(year=year)
    except ValueError:
        return date(year, 3, 1)
