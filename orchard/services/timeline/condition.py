"""A tree's condition as its inspections scored it, and where it is going."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from orchard.records.models import Inspection, Tree
from orchard.science import trend
from orchard.science.figures import days, figure
from orchard.services.timeline.looks import STANDING

YEAR_DAYS = 365.25


@dataclass(frozen=True, slots=True)
class Score:
    """The condition that one look gave the tree."""

    on: date
    condition: int
    inspection: int


class Direction(StrEnum):
    """Where the condition of a tree is going."""

    UNKNOWN = "unknown"
    NONE = "none"
    BETTER = "better"
    WORSE = "worse"


@dataclass(frozen=True, slots=True)
class ConditionTrend:
    """The direction of some scores, and by how many steps a year."""

    direction: Direction
    scores: int
    since: date | None
    steps_a_year: float = 0.0


def scores(tree: Tree, *, most: int = 120) -> list[Score]:
    """Return the last scores of the tree's condition, the oldest of them first."""
    rows = (
        Inspection.objects.filter(STANDING, tree_id=tree.pk, condition__isnull=False)
        .order_by("-seen_on", "-id")
        .values_list("seen_on", "condition", "id")[:most]
    )
    return [
        Score(seen_on, condition, number)
        for seen_on, condition, number in reversed(rows)
        if condition is not None
    ]


def condition_trend(scores: Sequence[Score]) -> ConditionTrend:
    """Tell whether the last scores rise or fall more than chance would have them.

    `scores` come oldest first. Those older than the time that counts, before the last
    of them, are left out.
    """
    if not scores:
        return ConditionTrend(Direction.UNKNOWN, 0, None)
    since = scores[-1].on - days("condition_trend_days")
    lately = [score for score in scores if score.on >= since]
    values = [score.condition for score in lately]
    moments = [score.on for score in lately]
    first = moments[0]
    if len(lately) < figure("condition_trend_scores").value or first == moments[-1]:
        return ConditionTrend(Direction.UNKNOWN, len(lately), first)
    tau, _z, chance = trend.mann_kendall(values)
    if chance > figure("condition_trend_chance").value:
        return ConditionTrend(Direction.NONE, len(lately), first)
    slope, _low, _high = trend.theil_sen(moments, values)
    direction = Direction.BETTER if tau > 0 else Direction.WORSE
    return ConditionTrend(direction, len(lately), first, slope * YEAR_DAYS)
