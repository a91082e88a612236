"""Observations besides inspections: events and growth stages."""

from __future__ import annotations

from orchard.services.observations.events import (
    carry_over,
    correct_event,
    correct_stage,
    note_event,
    note_event_and_open,
    note_stage,
    note_stage_and_open,
    withdraw_event,
    withdraw_stage,
)
from orchard.services.observations.growth_stages import (
    cultivar_groups,
    growth_stage_log,
)

__all__ = [
    "carry_over",
    "correct_event",
    "correct_stage",
    "cultivar_groups",
    "growth_stage_log",
    "note_event",
    "note_event_and_open",
    "note_stage",
    "note_stage_and_open",
    "withdraw_event",
    "withdraw_stage",
]
