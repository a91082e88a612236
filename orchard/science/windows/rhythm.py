"""How late a job is against its own rhythm, and what makes it wait."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import date

from orchard.science.figures import figure, stages
from orchard.science.windows.history import Window
from orchard.science.words import NotWhile

_WAITS = {
    NotWhile.FROST: "Wait until the last frost is past and new growth shows.",
    NotWhile.HEAT: "Wait until the heat is over.",
    NotWhile.BLOOM: "Wait until the bloom is over: bees are at work.",
    NotWhile.HOLD: "Wait until the entry hold ends.",
}


def lateness(window: Window, today: date) -> float:
    """Measure days late over the job's own rhythm; 0 on the due day and before.

    Without unit: 1 means a whole rhythm late, so three days late on a weekly job
    (0.43) weighs more than three days late on a yearly one (0.008). ValueError for a
    rhythm of less than a day.

    References
    ----------
    Common practice, no source.
    """
    if window.rhythm_days < 1:
        raise ValueError(f"rhythm_days is {window.rhythm_days}; it must be at least 1.")
    return max(0, (today - window.due).days) / window.rhythm_days


def days_early(rhythm_days: int) -> int:
    """Return how many whole days before its due day a job may be done.

    A share of the job's own rhythm, days, rounded down. ValueError for a rhythm of
    less than a day.

    References
    ----------
    Common practice, no source.
    """
    if rhythm_days < 1:
        raise ValueError(f"rhythm_days is {rhythm_days}; it must be at least 1.")
    return math.floor(rhythm_days * figure("early_share").value)


def waits(
    not_while: Iterable[NotWhile],
    *,
    frost: bool = False,
    heat: bool = False,
    bbch: int | None = None,
    hold: bool = False,
) -> tuple[str, ...]:
    """Say in sentences why a job waits now; nothing when it may go ahead.

    The due day stays where it is. `bbch` is the leading stage.
    """
    now = {
        NotWhile.FROST: frost,
        NotWhile.HEAT: heat,
        NotWhile.BLOOM: bbch is not None and bbch in stages("bloom"),
        NotWhile.HOLD: hold,
    }
    return tuple(_WAITS[reason] for reason in not_while if now[reason])
