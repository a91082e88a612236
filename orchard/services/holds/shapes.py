"""What a hold on a tree is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from orchard.science import guide
from orchard.science.words import HoldKind, StepKind, WorkKind


@dataclass(frozen=True, slots=True)
class TreeHold:
    """One hold on a tree: its cause, its end and a sentence fit for everybody."""

    kind: HoldKind
    reason: str
    # The first day it no longer stands; None while it waits for an answer.
    until: date | None = None

    # The first day it stands; None where that does not matter.
    since: date | None = None

    def forbids(self, work: Iterable[WorkKind]) -> bool:
        """Say whether the guide forbids any of these kinds of work meanwhile."""
        return not set(work).isdisjoint(guide.load().holds[self.kind].work)

    def forbids_step(self, step: StepKind) -> bool:
        """Say whether the guide forbids such a step of a sign meanwhile."""
        return step in guide.load().holds[self.kind].steps
