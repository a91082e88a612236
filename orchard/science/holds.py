"""When may one enter, when may one pick: label intervals and the clock."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import astuple, dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo

from orchard.science import arguments, figures
from orchard.science.words import EntryRule, Picked, RecordProfile

# What no label exceeds: more is a slip of the pen. Tables and forms refuse it as well.
LONGEST_ENTRY_H = 24 * 90
LONGEST_HARVEST_DAYS = 730


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
        "hours", hours, "h", at_least=0.0, at_most=LONGEST_ENTRY_H
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
    interval = arguments.whole("days", days, "days", at_most=LONGEST_HARVEST_DAYS)
    on_clock = ended.replace(tzinfo=None) + timedelta(days=interval)
    readings = (on_clock.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    return max(moment.astimezone(UTC) for moment in readings).astimezone(zone)


def dry_opens(
    applied_end: datetime, dry_at: datetime, hours: float | None = None
) -> datetime:
    """Return when a place may be entered whose label says only "until dry".

    Parameters
    ----------
    applied_end : moment the application ended, with its time zone
    dry_at : moment at which somebody qualified found it dry, not before the end
    hours : hours that the label names beside it, h, or None

    Returns
    -------
    Moment in UTC: the latest of dry, the label's hours and the least wait.

    Raises
    ------
    ValueError
        When a moment has no time zone, it was dry before the end, or the hours are out
        of range.

    References
    ----------
    Entry when sprays have dried: UF IFAS Circular 393-F, read for the principle. Least
    wait 4 h: the lowest interval of US labels, 60 FR 21965, read; elsewhere a rule of
    this book.
    """
    ended = arguments.moment("applied_end", applied_end).astimezone(UTC)
    dry = arguments.moment("dry_at", dry_at).astimezone(UTC)
    if dry < ended:
        raise ValueError("dry_at is before applied_end; it can only dry afterwards.")
    least = figures.hours("entry_least_after_dry_h")
    ends = [dry, ended + least]
    if hours is not None:
        ends.append(entry_ends(ended, hours))
    return max(ends)


@dataclass(frozen=True, slots=True)
class Label:
    """What a label says of entering and picking; a figure of None is not known."""

    entry_rule: EntryRule
    entry_hours: float | None = None
    fruit_days: int | None = None
    leaf_days: int | None = None
    flower_days: int | None = None


# What holds nothing: paint, mulch and their kind.
NO_HOLD = Label(EntryRule.NONE_NEEDED, None, 0, 0, 0)


@dataclass(frozen=True, slots=True)
class Openings:
    """When a place may be entered and each part picked, UTC; None while not known."""

    entry: datetime | None
    fruit: datetime | None
    leaf: datetime | None
    flower: datetime | None

    @property
    def last(self) -> datetime | None:
        """Return when nothing is held any more; None while a part is not known."""
        moments = [each for each in astuple(self) if each is not None]
        return max(moments) if len(moments) == len(astuple(self)) else None

    def part_opens(self, part: Picked) -> datetime | None:
        """Return when a part may be picked."""
        moment: datetime | None = getattr(self, part.value)
        return moment

    def later(self, other: Openings) -> Openings:
        """Return the later of each; what one of them does not know stays unknown."""
        pairs = zip(astuple(self), astuple(other), strict=True)
        return Openings(*(None if None in pair else max(pair) for pair in pairs))


def openings(
    label: Label,
    applied_end: datetime,
    zone: tzinfo,
    dry_at: datetime | None = None,
) -> Openings:
    """Return when one use of one product lets people enter and pick.

    Parameters
    ----------
    label : what the label says
    applied_end : moment the application ended, with its time zone
    zone : the orchard's time zone, in which a label's days are counted
    dry_at : when it was found dry, for a label that says "until dry"

    Returns
    -------
    Openings in UTC. A part opens when both clocks have run out: of entry and its own.

    Raises
    ------
    ValueError
        When a moment has no time zone or a figure is out of range.

    References
    ----------
    As `entry_ends`, `harvest_opens` and `dry_opens`. A figure for fruit opens no
    leaves: a rule of this book, on the stricter side.
    """
    ended = arguments.moment("applied_end", applied_end).astimezone(UTC)
    entry: datetime | None = None
    if label.entry_rule is EntryRule.NONE_NEEDED:
        entry = ended
    elif label.entry_rule is EntryRule.HOURS and label.entry_hours is not None:
        entry = entry_ends(ended, label.entry_hours)
    elif label.entry_rule is EntryRule.UNTIL_DRY and dry_at is not None:
        entry = dry_opens(ended, dry_at, label.entry_hours)

    def opens(days: int | None) -> datetime | None:
        if entry is None or days is None:
            return None
        return max(entry, harvest_opens(ended, days, zone).astimezone(UTC))

    return Openings(
        entry, opens(label.fruit_days), opens(label.leaf_days), opens(label.flower_days)
    )


def manure_days(*, near_soil: bool) -> int:
    """Return the days from raw manure to harvest.

    `near_soil`: the eaten part touches the soil or is splashed by it.

    References
    ----------
    US National Organic Program, 7 CFR 205.203: 120 days, else 90 (read). This book
    takes 120 for herbs and for fruit low on the tree.
    """
    key = "manure_days_near_soil" if near_soil else "manure_days"
    return round(figures.figure(key).value)


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


def record_due_on(applied_on: date, profile: RecordProfile = RecordProfile.US) -> date:
    """Return the last day for writing up an application.

    Parameters
    ----------
    applied_on : day of the application
    profile : whose law the orchard's records follow

    Returns
    -------
    Day. EU: the same day ("without delay"). AU and elsewhere: the next, 24 h.

    References
    ----------
    US 7 CFR 110.3: within 14 days (read). EU 2023/564: without delay (read). New South
    Wales: 24 h (memory); other states allow more. Where local rules ask for less, they
    win.
    """
    key = _PROFILE_FIGURES[profile][0]
    return arguments.day("applied_on", applied_on) + figures.days(key)


def record_kept_until(
    applied_on: date, profile: RecordProfile = RecordProfile.US
) -> date:
    """Return the day until which that record is kept at least.

    Parameters
    ----------
    applied_on : day of the application
    profile : whose law the orchard's records follow

    Returns
    -------
    Day. From 29 February, until 1 March where years are counted from the use; in the EU
    and elsewhere years are counted from the end of the year of the use.

    References
    ----------
    US 7 CFR 110.3: two years (read). EU: three years from 1 January after the use (read
    at second hand). New South Wales: three years (read). This book itself never erases;
    local rules may ask for longer.
    """
    on = arguments.day("applied_on", applied_on)
    years = int(figures.figure(_PROFILE_FIGURES[profile][1]).value)
    if profile in (RecordProfile.EU, RecordProfile.OTHER):
        return date(on.year + years, 12, 31)
    try:
        return on.replace(year=on.year + years)
    except ValueError:
        return date(on.year + years, 3, 1)


# By profile: days to write a record up in, and years to keep it.
_PROFILE_FIGURES = {
    RecordProfile.EU: ("record_within_days_eu", "record_kept_years_eu"),
    RecordProfile.US: ("record_within_days", "record_kept_years"),
    RecordProfile.AU: ("record_within_days_au", "record_kept_years_au"),
    RecordProfile.OTHER: ("record_within_days_other", "record_kept_years_other"),
}


def metres_apart(first: tuple[float, float], second: tuple[float, float]) -> float:
    """Return how far apart two near places are, m.

    Parameters
    ----------
    first, second : latitude and longitude, degrees

    Raises
    ------
    ValueError
        When a coordinate is missing or not on Earth.

    Notes
    -----
    On a flat map about the first place: good to a centimetre within a garden.

    References
    ----------
    International Union of Geodesy and Geophysics: mean radius of the Earth.
    """
    (lat, lon), (other_lat, other_lon) = first, second
    for value, name, most in (
        (lat, "latitude", 90.0), (other_lat, "latitude", 90.0),
        (lon, "longitude", 180.0), (other_lon, "longitude", 180.0),
    ):  # fmt: skip
        arguments.number(name, value, "°", at_least=-most, at_most=most)
    north = math.radians(other_lat - lat)
    east = math.radians(other_lon - lon) * math.cos(math.radians(lat))
    return math.hypot(north, east) * figures.figure("earth_radius_km").value * 1000
