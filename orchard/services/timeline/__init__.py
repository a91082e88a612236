"""The timeline: all of a tree's life in one view, newest first."""

from __future__ import annotations

from orchard.science.words import Lane
from orchard.services.timeline.condition import (
    ConditionTrend,
    Direction,
    Score,
    condition_trend,
    scores,
)
from orchard.services.timeline.pages import (
    Past,
    best_photo,
    open_tasks,
    past_scores,
    timeline_of,
)
from orchard.services.timeline.shapes import (
    Event,
    Mark,
    Rank,
    Seen,
    Shot,
    Timeline,
)
from orchard.services.timeline.traces import DoneBefore, done_before

__all__ = [
    "ConditionTrend",
    "Direction",
    "DoneBefore",
    "Event",
    "Lane",
    "Mark",
    "Past",
    "Rank",
    "Score",
    "Seen",
    "Shot",
    "Timeline",
    "condition_trend",
    "done_before",
    "open_tasks",
    "past_scores",
    "best_photo",
    "scores",
    "timeline_of",
]
