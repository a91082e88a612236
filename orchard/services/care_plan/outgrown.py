"""Seasonal care that its tree, its block or the whole orchard has outgrown."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import CarePlan, Orchard, Target, Task, User
from orchard.science import guide
from orchard.science.guide import CareJob
from orchard.science.windows import Trigger
from orchard.services.care_plan.context import (
    gather_context,
    parts_of,
    subjects,
    trees_with,
)
from orchard.services.care_plan.schedule import adapted
from orchard.services.tasks import fall_away_all


def cancel_outgrown(
    orchard: Orchard, *, now: datetime, today: date, by: User | None = None
) -> list[Task]:
    """Let open care fall away that the plan no longer asks of its tree or block.

    It is worked out while others write; call it outside a transaction.
    """
    context = gather_context(orchard, today=today)
    by_job: dict[str, list[tuple[int, Target]]] = defaultdict(list)
    standing = Task.objects.in_orchard(orchard).open().care().order_by("id")
    for pk, key, tree, block in standing.values_list(
        "pk", "key", "tree_id", "block_id"
    ):
        by_job[key].append((pk, Target.from_columns(tree, block)))
    outgrown: list[tuple[int, CarePlan, CareJob]] = []
    for plan, job in _planned(orchard):
        tasks = by_job.get(job.key)
        if not tasks:
            continue
        due = {
            subject.target
            for subject in subjects(job, trees_with(job, plan, context), context)
        }
        outgrown += [
            (pk, plan, job)
            for pk, target in tasks
            if not plan.active or target not in due
        ]
    rows = Task.objects.select_related("tree").in_bulk(
        [pk for pk, _plan, _job in outgrown]
    )
    falling = [(rows[pk], _why(rows[pk], plan, job)) for pk, plan, job in outgrown]
    fallen = fall_away_all(falling, by=by, now=now, today=today)
    return [closure.task for closure in fallen]


def turn_seasons(orchard: Orchard, *, by: User, now: datetime, today: date) -> None:
    """Start the plan's windows anew from today: spring has become autumn here.

    What was done and seen keeps its dates, and nothing is late by windows that this
    place never had. What is in season now is opened by `open_next`.
    """
    reason = _("The orchard's position was corrected, so its seasons changed.")
    with transaction.atomic():
        for plan, job in _planned(orchard):
            if not _keeps_to_seasons(adapted(job.trigger, plan)):
                continue
            tasks = [(task, reason) for task in _open_tasks(plan)]
            fall_away_all(tasks, by=by, now=now, today=today)
            # The plan counts from here, as if it had been set today.
            plan.set_at = now
            plan.save(update_fields=["set_at"])


def _planned(orchard: Orchard) -> list[tuple[CarePlan, CareJob]]:
    jobs = guide.load().jobs
    plans = CarePlan.objects.filter(orchard=orchard).order_by("id")
    return [(plan, jobs[plan.job]) for plan in plans if plan.job in jobs]


def _open_tasks(plan: CarePlan) -> QuerySet[Task]:
    tasks = Task.objects.in_orchard(plan.orchard).open().care(plan.job)
    return tasks.select_related("tree", "block").order_by("id")


def _keeps_to_seasons(trigger: Trigger) -> bool:
    return any(getattr(part, "spans", ()) for part in parts_of(trigger))


def _why(task: Task, plan: CarePlan, job: CareJob) -> str:
    if not plan.active:
        return plan.reason or _("The care plan no longer asks for it.")
    words = {"words": job.applies_words}
    if task.tree is not None:
        words["code"] = task.tree.code
        text = _("%(code)s is no longer one of the trees it is for: %(words)s.")
    else:
        text = _("No tree here is one that it is for any more: %(words)s.")
    return (text % words)[:500]
