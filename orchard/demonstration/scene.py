"""The scene: one orchard in the making, with its people, its trees and its dice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from random import Random
from uuid import UUID
from zoneinfo import ZoneInfo

from orchard.records.models import Membership, Orchard, Tree, User
from orchard.science import guide, windows
from orchard.services import permissions

WEDNESDAY = 2
Say = Callable[[str], None]
# How far apart the mornings of the crew are.
OF_LATE, LONG_AGO = timedelta(days=7), timedelta(days=21)


@dataclass(slots=True)
class Scene:
    """What every part of the demonstration needs while it tells its story."""

    orchard: Orchard
    dice: Random
    # The present: nothing of the story lies after it.
    now: datetime
    starts_on: date
    # The last days, in which the crew comes every week.
    recent: timedelta
    # The names of all photos whose files were laid down.
    laid: list[UUID] = field(default_factory=list)
    people: dict[str, User] = field(default_factory=dict)
    trees: dict[str, Tree] = field(default_factory=dict)
    # Tree by tree: how it stands now, from 1 to 5, and how that drifts each year.
    standing: dict[str, float] = field(default_factory=dict)
    scored: dict[str, date] = field(default_factory=dict)
    # Days that somebody will let a task lie, by its number.
    put_off: dict[int, int] = field(default_factory=dict)
    frosts: list[date] = field(default_factory=list)
    # How many photos of each motif the story may have, and how many it has.
    album: dict[str, int] = field(default_factory=dict)
    drawn: dict[str, int] = field(default_factory=dict)

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.orchard.time_zone)

    @property
    def latitude(self) -> float:
        return float(self.orchard.latitude)

    @property
    def ends_on(self) -> date:
        """Today, as the orchard's own calendar has it."""
        return self.now.astimezone(self.zone).date()

    def is_recent(self, day: date) -> bool:
        """Tell whether a day is of the time in which the crew comes every week."""
        return day > self.ends_on - self.recent

    def rhythm(self, day: date) -> timedelta:
        """Return how long it is from a morning of the crew to its next."""
        return OF_LATE if self.is_recent(day) else LONG_AGO

    def mornings(self) -> list[date]:
        """List the Wednesdays before today on which the crew comes."""
        day = self.starts_on + timedelta(days=3)
        day += timedelta(days=(WEDNESDAY - day.weekday()) % 7)
        found = []
        while day < self.ends_on:
            found.append(day)
            day += self.rhythm(day)
        return found

    def at(self, day: date, hour: int, minute: int = 0) -> datetime:
        """Return a moment of a day by the orchard's clock, never after the present."""
        local = datetime.combine(day, time(hour, minute), self.zone)
        return min(local.astimezone(self.now.tzinfo), self.now)

    def month(self, day: date) -> int:
        """Number the month of a day from 1, the first of spring."""
        return windows.season_month(day, self.latitude)

    def chance(self, share: float) -> bool:
        """Say yes in so many cases of one."""
        return self.dice.random() < share

    def member(self, name: str) -> Membership:
        """Return a person's membership, as the doors would."""
        return permissions.member_for(self.people[name], self.orchard.slug)

    def age(self, tree: Tree, day: date) -> float:
        """Return a tree's age in years."""
        start = tree.born_on or tree.planted_on
        return (day - start).days / 365.25 if start else 10.0

    def bears(self, tree: Tree, day: date) -> bool:
        """Say whether a tree is old enough to carry fruit."""
        return self.age(tree, day) >= 4

    def is_ripe(self, tree: Tree, day: date) -> bool:
        """Say whether a tree's fruit is usually ripe in a month."""
        cultivar = guide.load().cultivars.get(tree.kind.guide_key)
        if cultivar is None or not cultivar.ripe or not self.bears(tree, day):
            return False
        first, last = cultivar.ripe
        return (self.month(day) - first) % 12 <= (last - first) % 12
