"""Events and growth stages."""

from __future__ import annotations

from orchard.web.pages.observations.events import (
    correct_event,
    correct_stage,
    note_event,
    note_orchard_event,
    note_stage,
    seen_on_whom,
    withdraw_event,
    withdraw_stage,
)
from orchard.web.pages.observations.forms import (
    GroupStageForm,
    HappeningForm,
    StageForm,
)
from orchard.web.pages.observations.growth_stages import growth_stage_log

__all__ = [
    "GroupStageForm",
    "HappeningForm",
    "StageForm",
    "correct_event",
    "correct_stage",
    "growth_stage_log",
    "note_event",
    "note_orchard_event",
    "note_stage",
    "seen_on_whom",
    "withdraw_event",
    "withdraw_stage",
]
