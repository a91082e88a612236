"""What a hold on a tree is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class HoldKind(StrEnum):
    """What causes a hold."""

    OPEN_CASE = "open case"
    SEVERE_FROST = "severe frost"
    CUT_TEST_OPEN = "cut test open"
    CUT_TEST_FAILED = "cut test failed"
    CUT_TEST_UNDONE = "cut test left undone"


class Forbidden(StrEnum):
    """What may not be done with a tree while a hold stands."""

    LEAVING = "leaving"
    PICKING = "picking"


FORBIDDEN_BY = {
    HoldKind.OPEN_CASE: Forbidden.LEAVING,
    HoldKind.SEVERE_FROST: Forbidden.PICKING,
    HoldKind.CUT_TEST_OPEN: Forbidden.PICKING,
    HoldKind.CUT_TEST_FAILED: Forbidden.PICKING,
    HoldKind.CUT_TEST_UNDONE: Forbidden.PICKING,
}


@dataclass(frozen=True, slots=True)
class TreeHold:
    """One hold on a tree: its cause, its end and a sentence fit for everybody."""

    kind: HoldKind
    reason: str
    # The first day it no longer stands; None while it waits for an answer.
    until: date | None = None

    @property
    def forbids(self) -> Forbidden:
        return FORBIDDEN_BY[self.kind]
