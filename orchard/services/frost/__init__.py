"""Frost: the night ahead tree by tree, and the night as it was."""

from __future__ import annotations

from orchard.services.frost.evenings import clock_of
from orchard.services.frost.night_record import NotedNight, note_night
from orchard.services.frost.risk import (
    Covered,
    FrostNight,
    TreeNight,
    covers_on,
    risk_tonight,
)

__all__ = [
    "Covered",
    "FrostNight",
    "NotedNight",
    "TreeNight",
    "clock_of",
    "covers_on",
    "note_night",
    "risk_tonight",
]
