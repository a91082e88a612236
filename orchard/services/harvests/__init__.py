"""Harvests: what was picked, where it went, and how it is called back."""

from __future__ import annotations

from orchard.services.harvests.checks import (
    PickHold,
    check_possible,
    holds_on,
    picked_words,
    why_kept_back,
)
from orchard.services.harvests.lists import (
    LotFilters,
    LotLine,
    Yield,
    Yields,
    kinds_picked,
    lot_line,
    lots_of,
    yields_of,
)
from orchard.services.harvests.named import pick_named
from orchard.services.harvests.notes import notes_for
from orchard.services.harvests.quarantine import quarantine_words
from orchard.services.harvests.recall import (
    CallLine,
    RecallPicture,
    TreeTrace,
    call_list,
    note_call,
    open_recall,
    recall_picture,
    recalls_of,
)
from orchard.services.harvests.record import (
    RecordedPick,
    correct,
    enter,
    look_again,
    record,
    withdraw,
)
from orchard.services.harvests.shapes import (
    ASKED,
    FoodCheck,
    Pick,
    TreePick,
    WrittenPick,
    shared_out,
)
from orchard.services.harvests.shares import (
    GIVEN,
    LotAmount,
    LotBalance,
    amount_words,
    balance_of,
    correct_share,
    current_lot,
    share,
    shares_of,
    withdraw_share,
)

__all__ = [
    "CallLine",
    "LotFilters",
    "LotLine",
    "RecallPicture",
    "TreeTrace",
    "Yield",
    "Yields",
    "call_list",
    "kinds_picked",
    "lot_line",
    "lots_of",
    "note_call",
    "notes_for",
    "open_recall",
    "recall_picture",
    "recalls_of",
    "yields_of",
    "ASKED",
    "GIVEN",
    "LotAmount",
    "LotBalance",
    "FoodCheck",
    "Pick",
    "PickHold",
    "RecordedPick",
    "TreePick",
    "WrittenPick",
    "amount_words",
    "balance_of",
    "check_possible",
    "correct",
    "correct_share",
    "current_lot",
    "holds_on",
    "look_again",
    "pick_named",
    "picked_words",
    "quarantine_words",
    "enter",
    "record",
    "share",
    "shared_out",
    "shares_of",
    "why_kept_back",
    "withdraw",
    "withdraw_share",
]
