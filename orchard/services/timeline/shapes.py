"""What a timeline is made of: lanes, marks, events."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.utils.translation import gettext as _

from orchard.records.models import Membership, Tree
from orchard.science.words import Lane
from orchard.services.errors import Refused

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MICROSECOND = timedelta(microseconds=1)
MARK = re.compile(r"(-?\d{1,18})\.(\d{1,2})\.(\d{1,18})", re.ASCII)


class Rank(StrEnum):
    """Which of two events of the same moment is told first: the later one here.

    The value orders the sources; every row of a table has one rank only.
    """

    BORN = "00"
    PLANTED = "01"
    MOVED = "02"
    LOOK = "10"
    SHIFTED = "11"
    PHOTO = "20"
    STAGE = "30"
    LEAVES = "34"
    TESTED = "35"
    TREATED = "36"
    PICKED = "37"
    HAPPENING = "40"
    CASE_OPENED = "50"
    WORK = "60"
    CASE_CLOSED = "70"
    SCION_DIED = "80"
    DIED = "81"
    REMOVED = "82"
    REPLACED = "83"


@dataclass(frozen=True, slots=True, order=True)
class Mark:
    """The place of an event in the timeline, unlike that of any other."""

    at: datetime
    rank: Rank
    id: int

    def __str__(self) -> str:
        return f"{(self.at - EPOCH) // MICROSECOND}.{self.rank}.{self.id}"

    @classmethod
    def read(cls, text: str) -> Mark:
        """Read what a page carried in its address.

        Raises:
            Refused (unknown_mark): it is not what a timeline wrote.
        """
        match = MARK.fullmatch(text)
        try:
            if match is None:
                raise ValueError
            micros, rank, number = match.groups()
            return cls(EPOCH + int(micros) * MICROSECOND, Rank(rank), int(number))
        except (ValueError, OverflowError):
            raise Refused(
                _("The history can't continue from there. Start from its top."),
                code="unknown_mark",
            ) from None


@dataclass(frozen=True, slots=True)
class Seen:
    """A finding as a line of the timeline tells it."""

    id: int
    sign: str
    name: str
    verdict: str
    computed: str
    amount: str
    because: str
    note: str
    due_on: date | None
    recheck_on: date | None
    sure: bool
    private: bool


@dataclass(frozen=True, slots=True)
class Shot:
    """A photo as a line of the timeline shows it."""

    name: UUID
    alt: str
    caption: str
    width: int
    height: int
    private: bool


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened to a tree.

    `target` names what can be opened from it ("inspection", 12); `old` is the number
    of the version that this one corrects. `undone` says why it no longer counts.
    """

    mark: Mark
    on: date
    lane: Lane
    title: str
    at: datetime | None = None
    by_id: int | None = None
    by: str = ""
    # Who wrote it down, where that is somebody else.
    written_by: str = ""
    note: str = ""
    verdict: str = ""
    condition: int | None = None
    days_late: int = 0
    unproven: bool = False
    private: bool = False
    target: tuple[str, int | str] | None = None
    old: int | None = None
    correction_reason: str = ""
    undone: str = ""
    seen: tuple[Seen, ...] = ()
    shots: tuple[Shot, ...] = ()
    # Numbers of the work that a look ticked off again, and who had done it before.
    ticked_again: tuple[int, ...] = ()
    done_before: tuple[str, ...] = ()
    # The day is the first of those that it can have been.
    year_only: bool = False


@dataclass(frozen=True, slots=True)
class Timeline:
    """One page of a tree's life, newest first; `older` is where it goes on."""

    events: tuple[Event, ...]
    older: Mark | None
    years: tuple[int, ...]


def start_of(day: date, zone: ZoneInfo) -> datetime:
    """Return the first moment of a local day, in UTC."""
    return datetime.combine(day, time.min, zone).astimezone(UTC)


def end_of(day: date, zone: ZoneInfo) -> datetime:
    """Return the last moment of a local day, in UTC."""
    return datetime.combine(day, time.max, zone).astimezone(UTC)


DayMoment = Callable[[date, ZoneInfo], datetime]


@dataclass(frozen=True, slots=True)
class Scope:
    """Whose life is told to whom, and which part of it."""

    tree: Tree
    member: Membership
    zone: ZoneInfo
    sees_private: bool
    before: Mark | None
    year: int | None
    undone: bool
    size: int

    @property
    def first_day(self) -> date | None:
        return None if self.year is None else date(self.year, 1, 1)

    @property
    def last_day(self) -> date | None:
        return None if self.year is None else date(self.year, 12, 31)

    def moments(self, field: str, rank: Rank) -> Q:
        """Say which rows with a moment come after the mark, in the year asked for."""
        wanted = Q()
        if self.first_day and self.last_day:
            wanted &= Q(**{f"{field}__gte": start_of(self.first_day, self.zone)})
            wanted &= Q(**{f"{field}__lte": end_of(self.last_day, self.zone)})
        if self.before is not None:
            # The plain bound lets the database go straight to the place in its index.
            wanted &= Q(**{f"{field}__lte": self.before.at})
            earlier = Q(**{f"{field}__lt": self.before.at})
            wanted &= earlier | self._same(Q(**{field: self.before.at}), rank)
        return wanted

    def days(self, field: str, rank: Rank, moment: DayMoment = end_of) -> Q:
        """Say the same of rows with a day; `moment` puts them at its end or start."""
        wanted = Q()
        if self.first_day and self.last_day:
            wanted &= Q(**{f"{field}__gte": self.first_day})
            wanted &= Q(**{f"{field}__lte": self.last_day})
        if self.before is not None:
            day = self.before.at.astimezone(self.zone).date()
            here = moment(day, self.zone)
            if here < self.before.at:
                wanted &= Q(**{f"{field}__lte": day})
            else:
                earlier = Q(**{f"{field}__lt": day})
                same = self._same(Q(**{field: day}), rank)
                wanted &= earlier | same if here == self.before.at else earlier
        return wanted

    def _same(self, at: Q, rank: Rank) -> Q:
        if self.before is None or rank < self.before.rank:
            return at
        if rank > self.before.rank:
            return Q(pk__in=[])
        return at & Q(pk__lt=self.before.id)

    def holds(self, event: Event) -> bool:
        """Tell whether an event that was made whole belongs to this page."""
        if self.year is not None and event.on.year != self.year:
            return False
        return self.before is None or event.mark < self.before
