"""What phones send comes in exactly once, each entry with a receipt."""

from __future__ import annotations

from orchard.services.inbox.deeds import (
    Effect,
    ParsedDeed,
    add_product,
    answer_second_look,
    close_task,
    confirm_dry,
    note_event,
    note_ripeness_test,
    note_stage,
    note_watering,
    note_wet_spell,
    record_harvest,
    record_treatment,
    share_harvest,
    take_task,
    withdraw_look,
)
from orchard.services.inbox.receiving import (
    Admission,
    Answer,
    Entry,
    EntryKind,
    Outcome,
    admit,
    photo_name,
    receive,
)

__all__ = [
    "Admission",
    "Answer",
    "Effect",
    "Entry",
    "EntryKind",
    "Outcome",
    "ParsedDeed",
    "add_product",
    "admit",
    "answer_second_look",
    "close_task",
    "confirm_dry",
    "note_event",
    "note_ripeness_test",
    "note_stage",
    "note_watering",
    "note_wet_spell",
    "record_treatment",
    "photo_name",
    "receive",
    "record_harvest",
    "share_harvest",
    "take_task",
    "withdraw_look",
]
