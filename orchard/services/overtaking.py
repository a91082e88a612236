"""Work that the weather has overtaken: the night is over, the forecast has changed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _

from orchard.records.models import Task
from orchard.science.guide.shapes import CareJob
from orchard.science.windows import Measured
from orchard.services import measuring
from orchard.services.care import AGAIN, Knowledge, Subject
from orchard.services.closing import fall_away
from orchard.services.measuring import Weather

FORECAST = ("forecast_min", "forecast_max")
# Who covered a tree may say so on the morning after.
GRACE = timedelta(days=1)


def let_fall(
    known: Knowledge,
    weather: Weather,
    jobs: Iterable[CareJob],
    *,
    now: datetime,
    today: date,
) -> list[Task]:
    """Let open tasks fall away that a forecast asked for and no longer does."""
    by_forecast = {
        f"job:{job.key}": job
        for job in jobs
        if isinstance(job.trigger, Measured) and job.trigger.kind in FORECAST
    }
    tasks = (
        Task.objects.of(known.orchard)
        .open()
        .filter(what__in=by_forecast)
        .select_related("tree__kind")
        .order_by("id")
    )
    fallen = []
    for task in tasks:
        why = _why(task, by_forecast[task.what], known, weather, today)
        if why:
            fall_away(task, by=None, now=now, today=today, reason=why)
            fallen.append(task)
    return fallen


def _why(
    task: Task, job: CareJob, known: Knowledge, weather: Weather, today: date
) -> str:
    """Say why a task falls away; nothing while it stands."""
    subject = Subject(task.subject, task.tree, task.block_id, today)
    history = known.history(job, subject)
    asked = measuring.asked_now(weather, known, job, subject, history)
    name = task.occurrence.partition(AGAIN)[0]
    if any(window.occurrence == name for window in asked):
        return ""
    if task.due_on < today and (asked or today - task.due_on > GRACE):
        return _("Its time is over.")
    if task.due_on >= today and not asked and measuring.is_forecast(weather, job):
        return _("The newest forecast no longer asks for it.")
    return ""
