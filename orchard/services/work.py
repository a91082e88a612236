"""Work: opened by findings and by the care plan, taken, closed, opened again."""

from __future__ import annotations

from orchard.services.closing import (
    can_reopen,
    cancel_all,
    close,
    fall_away,
    reopen,
    reopen_those_of,
)
from orchard.services.following import follow, look_done, retire
from orchard.services.hands import give_back, hand_over, take, who_may_take_on
from orchard.services.opening import open_next

__all__ = [
    "can_reopen",
    "cancel_all",
    "close",
    "fall_away",
    "follow",
    "give_back",
    "hand_over",
    "look_done",
    "open_next",
    "reopen",
    "reopen_those_of",
    "retire",
    "take",
    "who_may_take_on",
]
