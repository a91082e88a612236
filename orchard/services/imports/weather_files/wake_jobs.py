"""What follows from new weather: jobs wake up, and their tasks open at once."""

from __future__ import annotations

from datetime import date, datetime

from orchard.records.models import Orchard, Task
from orchard.services import care_plan, guide_sync


def work_follows(orchard: Orchard, *, now: datetime, today: date) -> list[Task]:
    """Switch on the jobs that waited for weather, and open what is asked for now.

    A forecast typed at three in the afternoon must not wait for the night.
    """
    guide_sync.review_care_plan(orchard, now)
    return care_plan.open_next(orchard, now=now, today=today)
