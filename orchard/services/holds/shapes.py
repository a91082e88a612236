"""What a hold on a tree is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from orchard.records.models import Orchard
from orchard.science import guide
from orchard.science.words import HoldKind, StepKind, WorkKind


@dataclass(frozen=True, slots=True)
class HoldQuery:
    """Of which trees of an orchard holds are asked for, and when: all without `trees`.

    Without a moment the whole of today is asked about.
    """

    orchard: Orchard
    today: date
    trees: frozenset[int] | None = None
    now: datetime | None = None


@dataclass(frozen=True, slots=True)
class TreeHold:
    """One hold on a tree: its cause, its end and a sentence fit for everybody."""

    kind: HoldKind
    reason: str
    # The first day it no longer stands; None while it waits for an answer.
    until: date | None = None

    # The first day it stands; None where that does not matter.
    since: date | None = None
    # The very moment it ends, where it is counted in hours.
    until_at: datetime | None = None

    def forbids(self, work: Iterable[WorkKind]) -> bool:
        """Say whether the guide forbids any of these kinds of work meanwhile."""
        rule = guide.load().holds[self.kind]
        return rule.all_work or not set(work).isdisjoint(rule.work)

    def forbids_step(self, step: StepKind) -> bool:
        """Say whether the guide forbids such a step of a sign meanwhile."""
        return step in guide.load().holds[self.kind].steps
