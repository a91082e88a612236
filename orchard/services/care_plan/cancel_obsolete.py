"""Work that was overtaken: the night is over, the forecast or the fruit has changed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.utils.translation import gettext as _

from orchard.records.models import Task
from orchard.science.figures import days
from orchard.science.guide import CareJob
from orchard.science.windows import History, Measured, occurrences
from orchard.services.care_plan import measurements, phenology
from orchard.services.care_plan.context import AGAIN, Context, Subject
from orchard.services.care_plan.measurements import Weather
from orchard.services.tasks import fall_away_all

FORECAST = ("forecast_min", "forecast_max")


def let_fall(
    context: Context,
    weather: Weather,
    jobs: Iterable[CareJob],
    *,
    now: datetime,
    today: date,
) -> list[Task]:
    """Let open tasks fall away that forecast, rain or fruit no longer ask for."""
    asking = {job.key: job for job in jobs if _may_change(job)}
    tasks = (
        Task.objects.in_orchard(context.orchard)
        .open()
        .filter(kind=Task.Kind.CARE, key__in=asking)
        .order_by("id")
    )
    overtaken = [
        (task, why)
        for task in tasks
        if (why := _why(task, asking[task.key], context, weather, today))
    ]
    fallen = fall_away_all(overtaken, by=None, now=now, today=today)
    return [closure.task for closure in fallen]


def _may_change(job: CareJob) -> bool:
    trigger = job.trigger
    if not isinstance(trigger, Measured):
        return measurements.counts_rain(job)
    return trigger.kind in FORECAST or phenology.waits_for_ripe(trigger)


def _why(
    task: Task, job: CareJob, context: Context, weather: Weather, today: date
) -> str:
    """Say why a task falls away; nothing while it stands."""
    tree = context.growing(task.tree_id)
    if task.tree_id is not None and tree is None:
        return ""
    subject = Subject(task.target, tree, task.block_id, today)
    history = context.history(job, subject)
    if isinstance(job.trigger, Measured) and phenology.waits_for_ripe(job.trigger):
        trees = [tree] if tree else context.trees_of(subject)
        found = any(phenology.ready(trees, context))
        return "" if found else _("Its fruit is no longer recorded as ready.")
    if measurements.counts_rain(job):
        is_watered = _has_rain_watered(task, job, history, context, weather)
        return _("Rain has watered it.") if is_watered else ""
    asked = measurements.asked_now(weather, context, job, subject, history)
    name = task.occurrence.partition(AGAIN)[0]
    if any(window.occurrence == name for window in asked):
        return ""
    if task.due_on < today and (
        asked or today - task.due_on > days("forecast_grace_days")
    ):
        return _("Its time has passed.")
    if task.due_on >= today and not asked and measurements.is_forecast(weather, job):
        return _("The newest forecast no longer asks for it.")
    return ""


def _has_rain_watered(
    task: Task, job: CareJob, history: History, context: Context, weather: Weather
) -> bool:
    """Tell whether rain took the turn of a task, even where it was entered late."""
    rained = measurements.rained_on(history, weather, job.trigger)
    if not rained:
        return False
    today = weather.today
    watered = measurements.with_rain(history, weather, job.trigger)
    due = occurrences(job.trigger, watered, today, today, context.latitude)
    return max(rained) >= task.opens_on or not due
