"""Inspections: recorded, corrected, withdrawn, overridden. Nothing is erased."""

from __future__ import annotations

from orchard.services.correcting import correct, override, withdraw
from orchard.services.looking import Arrival, Look, Seen, as_seen, check_tree, look_of
from orchard.services.recording import Logged, record

__all__ = [
    "Arrival",
    "Logged",
    "Look",
    "Seen",
    "as_seen",
    "check_tree",
    "correct",
    "look_of",
    "override",
    "record",
    "withdraw",
]
