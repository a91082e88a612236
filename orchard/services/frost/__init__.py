"""Frost: the night ahead tree by tree, and the night as it was."""

from __future__ import annotations

from orchard.services.frost.evenings import clock_of
from orchard.services.frost.night_record import NotedNight, note_night
from orchard.services.frost.risk import (
    Brief,
    Covered,
    FrostNight,
    NightInShort,
    TreeNight,
    brief_of_tonight,
    covers_on,
    night_of_tree,
    risk_tonight,
    tonight_in_short,
)

__all__ = [
    "Brief",
    "Covered",
    "FrostNight",
    "NightInShort",
    "NotedNight",
    "TreeNight",
    "brief_of_tonight",
    "clock_of",
    "covers_on",
    "night_of_tree",
    "note_night",
    "risk_tonight",
    "tonight_in_short",
]
