"""The care plan as the coordinator reads and sets it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.db.models import Min
from django.utils.translation import gettext as _

from orchard.records.models import CarePlan, GrowingTree, Orchard, Task, User
from orchard.science import guide
from orchard.science.figures import limits
from orchard.science.guide import CareJob, Value
from orchard.science.source import cite
from orchard.science.windows import (
    Calendar,
    Trigger,
    needs_measurement,
    read_spans,
    rhythm_of,
    turns_by_month,
)
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.care_plan.context import (
    Context,
    applies,
    count_subjects,
    gather_context,
    parts_of,
    trees_with,
)
from orchard.services.care_plan.schedule import adapted, takes_interval, takes_window
from orchard.services.care_plan.wording import when_in_words
from orchard.services.errors import Refused, require_reason
from orchard.services.tasks import fall_away_all


@dataclass(frozen=True, slots=True)
class PlannedJob:
    """One job of the care plan, told for this orchard."""

    plan: CarePlan
    job: CareJob
    when: tuple[str, ...]
    trees: tuple[GrowingTree, ...]
    unsure: int
    open_tasks: int
    next_due: date | None
    waits_for_measurement: bool
    takes_interval: bool
    takes_window: bool
    sources: tuple[str, ...]
    # The hours it usually asks in each season month, from the first of spring.
    hours_by_month: tuple[float, ...]

    @property
    def hours(self) -> float:
        """Return the hours it usually asks in a year."""
        return sum(self.hours_by_month)


@dataclass(frozen=True, slots=True)
class HoursOfYear:
    """The hours that a care plan usually asks, from the first month of spring."""

    by_month: tuple[float, ...]

    @property
    def total(self) -> float:
        """Return the hours of the whole year."""
        return sum(self.by_month)


def hours_of(jobs: Iterable[PlannedJob]) -> HoursOfYear:
    """Add up what the jobs of a plan ask in a year."""
    rows = [job.hours_by_month for job in jobs]
    return HoursOfYear(tuple(sum(month) for month in zip(*rows, strict=True)))


def planned_jobs(orchard: Orchard, *, today: date) -> list[PlannedJob]:
    """Return every job of the plan in the guide's order; the queries stay the same."""
    plans = {
        plan.job: plan
        for plan in CarePlan.objects.filter(orchard=orchard).select_related("set_by")
    }
    return _with_state(
        orchard, today, [plans[job] for job in guide.load().jobs if job in plans]
    )


def planned_job(orchard: Orchard, key: str, *, today: date) -> PlannedJob:
    """Return one job of the plan.

    Raises:
        Refused (no_such_job): the guide or the plan does not have it.
    """
    plan = (
        CarePlan.objects.filter(orchard=orchard, job=key)
        .select_related("set_by")
        .first()
    )
    if plan is None or key not in guide.load().jobs:
        raise Refused(_("The care plan has no such job."), code="no_such_job")
    return _with_state(orchard, today, [plan])[0]


def jobs_for(tree: GrowingTree, context: Context) -> tuple[CareJob, ...]:
    """List the jobs that the plan has for a tree, at whatever time of its year."""
    plans = CarePlan.objects.filter(orchard=context.orchard, active=True)
    active = {plan.job: plan for plan in plans}
    facts = _all_year(context.facts_of(tree))
    return tuple(
        job
        for key, job in guide.load().jobs.items()
        if key in active and applies(job, active[key], facts)
    )


def set_job(
    orchard: Orchard,
    key: str,
    *,
    by: User,
    now: datetime,
    today: date,
    active: bool,
    reason: str,
    every_days: int | None = None,
    window: str = "",
) -> CarePlan:
    """Switch a job on or off in an orchard, or give it its own interval or window.

    Switched off, its open tasks fall away; switched on, the next night opens them,
    and nothing counts as late from the time before.

    Raises:
        Refused (no_such_job): the guide or the plan does not have it.
        Refused (reason_missing): no reason is given.
        Refused (does_not_fit): the interval or window makes no sense for this job.
    """
    with transaction.atomic():
        plan = (
            CarePlan.objects.select_for_update(no_key=True)
            .filter(orchard=orchard, job=key)
            .first()
        )
        job = guide.load().jobs.get(key)
        if plan is None or job is None:
            raise Refused(_("The care plan has no such job."), code="no_such_job")
        reason = require_reason(reason, most=300)
        _check(job, every_days, window)
        plan.orchard = orchard
        fields = ("active", "every_days", "window", "reason")
        before = audit.snapshot(plan, *fields)
        was_active = plan.active
        plan.active, plan.every_days, plan.window = active, every_days, window.strip()
        plan.reason, plan.set_by, plan.set_at = reason, by, now
        audit.save(
            Verb.SET_JOB,
            plan,
            by=by,
            now=now,
            before=before,
            after=audit.snapshot(plan, *fields),
            reason=plan.reason,
        )
        if was_active and not active:
            _let_fall(plan, by=by, now=now, today=today)
        return plan


def _with_state(
    orchard: Orchard, today: date, plans: Iterable[CarePlan]
) -> list[PlannedJob]:
    context = gather_context(orchard, today=today)
    standing = Task.objects.in_orchard(orchard).open().care()
    counts = Counter(standing.values_list("key", flat=True))
    due = dict(standing.values_list("key").annotate(due=Min("due_on")).order_by("key"))
    return [_planned(plan, context, counts, due, today) for plan in plans]


def _planned(
    plan: CarePlan,
    context: Context,
    counts: Mapping[str, int],
    due: Mapping[str, date],
    today: date,
) -> PlannedJob:
    book = guide.load()
    job = book.jobs[plan.job]
    trigger = adapted(job.trigger, plan)
    unsure = len(context.trees_where(lambda facts: job.applies_to(facts) is None))
    return PlannedJob(
        plan=plan,
        job=job,
        when=when_in_words(trigger, today=today, latitude=context.latitude),
        trees=trees_with(job, plan, context),
        unsure=unsure,
        open_tasks=counts.get(job.key, 0),
        next_due=due.get(job.key),
        waits_for_measurement=needs_measurement(trigger),
        takes_interval=takes_interval(job.trigger),
        takes_window=takes_window(job.trigger),
        sources=tuple(cite(book.sources[key]) for key in job.sources),
        hours_by_month=_hours_by_month(plan, job, trigger, context),
    )


# The facts of a tree that only part of its year has.
_OF_A_SEASON = ("fruit_hanging", "fruit_ripe")


def _hours_by_month(
    plan: CarePlan, job: CareJob, trigger: Trigger, context: Context
) -> tuple[float, ...]:
    """Return what a job asks in a year of the trees that grow here today."""
    if not plan.active:
        return (0.0,) * 12
    trees = context.trees_where(lambda facts: applies(job, plan, _all_year(facts)))
    hours = count_subjects(job, trees) * job.minutes / 60
    usual, own = rhythm_of(job.trigger), rhythm_of(trigger)
    turns = job.turns
    if turns is not None and usual is not None and own is not None:
        turns *= usual / own
    return tuple(hours * share for share in turns_by_month(trigger, turns, job.busy))


def _all_year(facts: Mapping[str, Value | None]) -> dict[str, Value | None]:
    """Take a tree that bears as one with fruit: some day of the year it has."""
    bears = facts.get("bearing")
    return {**facts, **{name: bears for name in _OF_A_SEASON if name in facts}}


def _check(job: CareJob, every_days: int | None, window: str) -> None:
    if every_days is not None:
        if not takes_interval(job.trigger):
            raise Refused(
                _("This job has no interval; leave the days empty."),
                code="does_not_fit",
                field="every_days",
            )
        least, most = limits("job_interval_days")
        if not least <= every_days <= most:
            raise Refused(
                _("Give the interval in days, from %(least)d to %(most)d.")
                % {"least": least, "most": most},
                code="does_not_fit",
                field="every_days",
            )
    if window.strip():
        if not takes_window(job.trigger):
            raise Refused(
                _("This job has no window; leave it empty."),
                code="does_not_fit",
                field="window",
            )
        try:
            spans = read_spans(window)
        except ValueError:
            spans = ()
        if not spans or (len(spans) > 1 and not _has_calendar(job.trigger)):
            raise Refused(
                _(
                    "Write the window like SM8-15..SM9-30: the 15th of the eighth "
                    "month, counted from the first month of spring, to the 30th of "
                    "the ninth."
                ),
                code="does_not_fit",
                field="window",
            )


def _has_calendar(trigger: Trigger) -> bool:
    return any(isinstance(part, Calendar) for part in parts_of(trigger))


def _let_fall(plan: CarePlan, *, by: User, now: datetime, today: date) -> None:
    tasks = Task.objects.in_orchard(plan.orchard).open().care(plan.job).order_by("id")
    fall_away_all([(task, plan.reason) for task in tasks], by=by, now=now, today=today)


def trees_not_for(orchard: Orchard, key: str, *, today: date) -> frozenset[int]:
    """Return the growing trees that a job is not for; what is unknown leaves none out.

    A key that is no job of the guide is for all.
    """
    job = guide.load().jobs.get(key)
    if job is None:
        return frozenset()
    context = gather_context(orchard, today=today)
    others = context.trees_where(lambda facts: job.applies_to(facts) is False)
    return frozenset(tree.pk for tree in others)
