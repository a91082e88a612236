"""The care plan: which jobs recur on which trees, and when their tasks open."""

from __future__ import annotations

from orchard.services.care_plan.context import Context, gather_context
from orchard.services.care_plan.measurements import cover_at, frost_traits, tree_risk
from orchard.services.care_plan.outgrown import cancel_outgrown, turn_seasons
from orchard.services.care_plan.phenology import (
    comes_ripe,
    pick_by,
    picked_on,
    ready,
    retest_after,
    ripe_seasons,
    season_now,
    stage_now,
    tested_before,
)
from orchard.services.care_plan.schedule import open_after, open_next
from orchard.services.care_plan.settings import (
    HoursOfYear,
    PlannedJob,
    hours_of,
    jobs_for,
    planned_job,
    planned_jobs,
    set_job,
    trees_not_for,
)

__all__ = [
    "Context",
    "HoursOfYear",
    "PlannedJob",
    "cancel_outgrown",
    "comes_ripe",
    "cover_at",
    "frost_traits",
    "gather_context",
    "hours_of",
    "open_after",
    "jobs_for",
    "open_next",
    "pick_by",
    "picked_on",
    "ready",
    "planned_job",
    "planned_jobs",
    "retest_after",
    "ripe_seasons",
    "season_now",
    "stage_now",
    "set_job",
    "tested_before",
    "tree_risk",
    "trees_not_for",
    "turn_seasons",
]
