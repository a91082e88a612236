"""When work is due: seasons, windows, occurrences, and how late is late."""

from __future__ import annotations

from orchard.science.windows.history import Done, History, Window
from orchard.science.windows.measured import Measurements
from orchard.science.windows.recurrence import (
    counted_back,
    counts_from_last,
    may_open,
    needs_measurement,
    occurrences,
)
from orchard.science.windows.rhythm import days_early, lateness, waits
from orchard.science.windows.seasons import (
    Span,
    day_in_season,
    first_month,
    is_north,
    read_spans,
    season,
    season_month,
    season_of_month,
    season_year,
)
from orchard.science.windows.triggers import (
    AfterEvent,
    AllOf,
    AnyOf,
    AtStage,
    Calendar,
    Interval,
    Measured,
    Observed,
    Trigger,
    read_trigger,
)
from orchard.science.windows.yearly import rhythm_of, turns_by_month

__all__ = [
    "AfterEvent",
    "AllOf",
    "AnyOf",
    "AtStage",
    "Calendar",
    "Done",
    "History",
    "Interval",
    "Measured",
    "Measurements",
    "Observed",
    "Span",
    "Trigger",
    "Window",
    "counted_back",
    "counts_from_last",
    "day_in_season",
    "days_early",
    "first_month",
    "is_north",
    "lateness",
    "may_open",
    "needs_measurement",
    "occurrences",
    "read_spans",
    "read_trigger",
    "rhythm_of",
    "season",
    "season_month",
    "season_of_month",
    "season_year",
    "turns_by_month",
    "waits",
]
