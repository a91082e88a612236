"""The events that are noted of a tree or an orchard, and what each of them means.

The record's choices, the lanes of a tree's life, the facts of a verdict and the jobs
that follow an event all read this one table.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from orchard.science import guide
from orchard.science.figures import figure
from orchard.science.words import JobRole, Lane

# What comes by the calendar of the orchard: jobs follow it that frost must find done.
BEFORE_FROST = "before_frost_season"
# Stands before the key of a sign where that it was seen is what a job follows.
_SEEN = "sign:"


class EventGroup(StrEnum):
    """What sort of event it is."""

    FROST = "frost"
    RAIN = "rain"
    WORK = "work"
    DAMAGE = "damage"
    OTHER = "other"


class EventKind(StrEnum):
    """What happened, as it is stored."""

    POTTED = "potted"
    STAKED = "staked"
    BARK_BARED = "bark_bared"
    FROST_NIGHT = "frost_night"
    HARD_FROST = "hard_frost"
    SEVERE_FROST = "severe_frost"
    HEAVY_RAIN = "heavy_rain"
    COVERED = "covered"
    APPLICATION = "application"
    HARVESTED = "harvested"
    OTHER = "other"

    @property
    def traits(self) -> Traits:
        """Return what the table says of this event."""
        return _TRAITS[self]

    @property
    def label(self) -> str:
        """Name the event as people read it, with the guide's figures in SI units."""
        traits = self.traits
        if not traits.measure:
            return traits.label
        written = (f"{figure(key).value:g}" for key in traits.figures)
        return f"{traits.label} ({traits.measure.format(*written)})"

    @property
    def group(self) -> EventGroup:
        """Return the group of the event."""
        return self.traits.group

    @property
    def severity(self) -> int:
        """Order the events of a group: light 1, hard 2, severe 3; 0 has no degrees."""
        return self.traits.severity

    @property
    def lane(self) -> Lane:
        """Return the lane of a tree's life in which the event stands."""
        return self.traits.lane

    @property
    def at_most_c(self) -> float | None:
        """Return how warm the night was at most at its coldest, °C."""
        return figure(self.traits.limit).value if self.traits.limit else None

    @property
    def of_whole_orchard(self) -> bool:
        """Say whether it can happen to a whole orchard at once."""
        return self.traits.of_whole_orchard

    @property
    def guide_name(self) -> str:
        """Return the name by which the guide's jobs wait for the event."""
        if self.traits.job is not None:
            return guide.load().job(self.traits.job).key
        return self.traits.guide_name or self.value

    @property
    def guide_names(self) -> tuple[str, ...]:
        """List the guide's names of the event and of the lighter ones it includes."""
        lighter = (
            kind.guide_name
            for kind in kinds_of(self.group)
            if 0 < kind.severity < self.severity
        )
        return (*lighter, self.guide_name)


@dataclass(frozen=True, slots=True)
class Traits:
    """One row of the table; `phrase` goes on from "3 days after ...".

    `measure` says from when on it is that event, by figures of the guide.
    """

    label: str
    group: EventGroup
    measure: str = ""
    figures: tuple[str, ...] = ()
    lane: Lane = Lane.LIFE
    severity: int = 0
    # The figure of the guide that a night of this event reached at its coldest.
    limit: str = ""
    of_whole_orchard: bool = False
    guide_name: str = ""
    # The job whose work the event is; jobs that follow it wait for that one.
    job: JobRole | None = None
    phrase: str = ""


_TRAITS = {
    EventKind.POTTED: Traits("repotted", EventGroup.WORK, phrase="repotting"),
    EventKind.STAKED: Traits("staked", EventGroup.WORK, phrase="staking"),
    EventKind.BARK_BARED: Traits(
        "bark laid bare", EventGroup.DAMAGE, phrase="bark was bared"
    ),
    EventKind.FROST_NIGHT: Traits(
        "frost night",
        EventGroup.FROST,
        lane=Lane.WEATHER,
        severity=1,
        limit="frost_air_c",
        of_whole_orchard=True,
        phrase="a frost night",
    ),
    EventKind.HARD_FROST: Traits(
        "hard frost",
        EventGroup.FROST,
        "{} °C or less for {} hours",
        ("fruit_check_c", "fruit_check_hours"),
        lane=Lane.WEATHER,
        severity=2,
        limit="fruit_check_c",
        of_whole_orchard=True,
        phrase="a hard frost",
    ),
    EventKind.SEVERE_FROST: Traits(
        "severe frost",
        EventGroup.FROST,
        "{} °C or less for {} hours",
        ("fruit_hold_c", "fruit_hold_hours"),
        lane=Lane.WEATHER,
        severity=3,
        limit="fruit_hold_c",
        of_whole_orchard=True,
        phrase="a severe frost",
    ),
    EventKind.HEAVY_RAIN: Traits(
        "heavy rain",
        EventGroup.RAIN,
        "{} mm or more in a day",
        ("rain_to_look_at_mm",),
        lane=Lane.WEATHER,
        of_whole_orchard=True,
        guide_name="rain_25mm",
        phrase="heavy rain",
    ),
    EventKind.COVERED: Traits(
        "covered against frost",
        EventGroup.WORK,
        job=JobRole.COVER_ON,
        phrase="the covers went on",
    ),
    EventKind.APPLICATION: Traits(
        "product applied", EventGroup.WORK, phrase="a product was applied"
    ),
    EventKind.HARVESTED: Traits(
        "harvest finished",
        EventGroup.WORK,
        guide_name="harvest_done",
        phrase="the harvest",
    ),
    EventKind.OTHER: Traits("something else", EventGroup.OTHER, of_whole_orchard=True),
}


@cache
def kinds_of(group: EventGroup) -> tuple[EventKind, ...]:
    """List the events of a group, the lightest first."""
    found = (kind for kind in EventKind if kind.group is group)
    return tuple(sorted(found, key=lambda kind: kind.severity))


def kinds_in(lanes: Iterable[Lane]) -> tuple[EventKind, ...]:
    """List the events that stand in some lanes of a tree's life."""
    wanted = frozenset(lanes)
    return tuple(kind for kind in EventKind if kind.lane in wanted)


def sign_event(sign: str) -> str:
    """Name the event that a sign was seen, as jobs of the guide name it."""
    return f"{_SEEN}{sign}"


def sign_in(event: str) -> str:
    """Return the sign whose being seen an event is, or nothing for any other event."""
    return event.removeprefix(_SEEN) if event.startswith(_SEEN) else ""


def phrases() -> dict[str, str]:
    """Return the words that follow "after", by the guide's name of the event."""
    return {
        kind.guide_name: kind.traits.phrase for kind in EventKind if kind.traits.phrase
    }
