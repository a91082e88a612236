"""Work that was overtaken: the night is over, the forecast or the fruit has changed."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from datetime import date, datetime
from typing import NamedTuple

from django.utils.translation import gettext as _

from orchard.records.models import Target, Task
from orchard.science.figures import days
from orchard.science.guide import CareJob
from orchard.science.windows import History, Measured, occurrences
from orchard.services.care_plan import measurements, phenology
from orchard.services.care_plan.context import AGAIN, Context, Subject
from orchard.services.care_plan.measurements import Weather
from orchard.services.tasks import fall_away_all

FORECAST = ("forecast_min", "forecast_max")


class OpenTurn(NamedTuple):
    """A turn of a job that stands open, and its window."""

    key: str
    occurrence: str
    opens_on: date
    due_on: date


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
    rows = (
        Task.objects.in_orchard(context.orchard)
        .open()
        .filter(kind=Task.Kind.CARE, key__in=asking)
        .order_by("id")
        .values_list(
            "id", "tree_id", "block_id", "key", "occurrence", "opens_on", "due_on"
        )
    )
    likeness = {
        key: measurements.likeness(weather, context, job) for key, job in asking.items()
    }
    # The same turn of trees alike is weighed once.
    found: dict[Hashable, str] = {}
    overtaken: dict[int, str] = {}
    for pk, tree_id, block_id, key, occurrence, opens_on, due_on in rows:
        tree = context.growing(tree_id)
        if tree_id is not None and tree is None:
            continue
        job, standing = asking[key], OpenTurn(key, occurrence, opens_on, due_on)
        target = Target.from_columns(tree_id, block_id)
        subject = Subject(target, tree, block_id, today)
        alike = likeness[key](subject), standing
        if alike not in found:
            found[alike] = _why(standing, job, subject, context, weather)
        if found[alike]:
            overtaken[pk] = found[alike]
    tasks = Task.objects.in_bulk(overtaken)
    falling = [(tasks[pk], why) for pk, why in overtaken.items()]
    fallen = fall_away_all(falling, by=None, now=now, today=today)
    return [closure.task for closure in fallen]


def _may_change(job: CareJob) -> bool:
    trigger = job.trigger
    if not isinstance(trigger, Measured):
        return measurements.counts_rain(job)
    return trigger.kind in FORECAST or phenology.waits_for_ripe(trigger)


def _why(
    task: OpenTurn, job: CareJob, subject: Subject, context: Context, weather: Weather
) -> str:
    """Say why a task falls away; nothing while it stands."""
    tree, today = subject.tree, context.today
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
    task: OpenTurn, job: CareJob, history: History, context: Context, weather: Weather
) -> bool:
    """Tell whether rain took the turn of a task, even where it was entered late."""
    rained = measurements.rained_on(history, weather, job.trigger)
    if not rained:
        return False
    today = weather.today
    watered = measurements.with_rain(history, weather, job.trigger)
    due = occurrences(job.trigger, watered, today, today, context.latitude)
    return max(rained) >= task.opens_on or not due
