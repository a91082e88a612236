"""Observations besides inspections: events and growth stages."""

from __future__ import annotations

from orchard.services.observations.events import (
    OF_WHOLE_ORCHARD,
    carry_over,
    correct_event,
    correct_stage,
    note_event,
    note_stage,
    withdraw_event,
    withdraw_stage,
)
from orchard.services.observations.growth_stages import (
    cultivar_groups,
    growth_stage_log,
    note_stage_and_open,
)

__all__ = [
    "OF_WHOLE_ORCHARD",
    "carry_over",
    "correct_event",
    "correct_stage",
    "cultivar_groups",
    "growth_stage_log",
    "note_event",
    "note_stage",
    "note_stage_and_open",
    "withdraw_event",
    "withdraw_stage",
]
