"""The care plan opens its next tasks: nightly, twice, or after a week of silence."""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Collection, Hashable, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime

from django.db import DatabaseError, transaction
from django.db.models import Max, Q
from django.utils.translation import gettext as _

from orchard.records.models import (
    CarePlan,
    Closure,
    Orchard,
    Target,
    Task,
    TaskQuerySet,
    Tree,
)
from orchard.science import guide
from orchard.science.figures import days
from orchard.science.guide import CareJob
from orchard.science.windows import (
    AfterEvent,
    AllOf,
    AnyOf,
    AtStage,
    Calendar,
    History,
    Interval,
    Measurements,
    Trigger,
    Window,
    may_open,
    occurrences,
    read_spans,
)
from orchard.science.words import JobRole
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.batches import in_batches
from orchard.services.care_plan import cancel_obsolete, measurements
from orchard.services.care_plan.context import (
    AGAIN,
    Context,
    Subject,
    gather_context,
    parts_of,
    subjects,
    trees_with,
)
from orchard.services.care_plan.measurements import Weather
from orchard.services.outages import outage_in

logger = logging.getLogger(__name__)


def adapted(trigger: Trigger, plan: CarePlan) -> Trigger:
    """Return a job's trigger with the orchard's own interval and window put in."""
    every = plan.every_days
    spans = read_spans(plan.window) if plan.window else None
    match trigger:
        case AnyOf() | AllOf():
            parts = tuple(adapted(part, plan) for part in trigger.triggers)
            return replace(trigger, triggers=parts)
        case Calendar():
            return replace(
                trigger,
                spans=spans or trigger.spans,
                every_days=every or trigger.every_days,
            )
        case Interval():
            return replace(
                trigger,
                days=every or trigger.days,
                winter_days=every or trigger.winter_days,
                spans=trigger.spans if spans is None else spans,
            )
        case AtStage(every_days=int()):
            return replace(trigger, every_days=every or trigger.every_days)
        case AfterEvent(every=int()):
            return replace(
                trigger,
                every=every or trigger.every,
                then_every=trigger.then_every and (every or trigger.then_every),
            )
        case _:
            return trigger


def takes_interval(trigger: Trigger) -> bool:
    """Tell whether an interval of the orchard's own would change anything."""
    return any(
        isinstance(part, Interval)
        or (isinstance(part, AtStage) and part.every_days is not None)
        or (isinstance(part, AfterEvent) and part.every is not None)
        for part in parts_of(trigger)
    )


def takes_window(trigger: Trigger) -> bool:
    """Tell whether a window of the orchard's own would change anything."""
    return any(isinstance(part, Calendar | Interval) for part in parts_of(trigger))


def current_window(
    trigger: Trigger,
    history: History,
    *,
    today: date,
    latitude: float,
    known_since: date,
    measured: Measurements | None = None,
) -> Window | None:
    """Return the one window that should be open today, or None.

    What opened while nobody looked counts; of several missed, only one comes.
    """
    if isinstance(trigger, AnyOf):
        asked = []
        for number, part in enumerate(trigger.triggers):
            window = current_window(
                part,
                history,
                today=today,
                latitude=latitude,
                known_since=known_since,
                measured=measured,
            )
            if window is not None:
                name = f"{number}:{window.occurrence}"
                asked.append(window._replace(occurrence=name))
        return min(
            asked,
            key=lambda window_asked: (window_asked.due, window_asked.occurrence),
            default=None,
        )
    start = max(today - days("catch_up_days"), known_since)
    if _leads_by_interval(trigger) and not history.done:
        # Never done: due from today, not from some day nobody knew of.
        start = today
    windows = occurrences(
        trigger, history, min(start, today), today, latitude, measured
    )
    open_now = [window for window in windows if window.opens <= today]
    if not open_now:
        return None
    window = open_now[0] if _repeats(trigger) else open_now[-1]
    # Nobody is late with what nobody was asked for.
    asked_from = min(known_since, today)
    if _repeats(trigger) and not history.done:
        asked_from = today
    return window._replace(due=max(window.due, asked_from))


def _leads_by_interval(trigger: Trigger) -> bool:
    lead = trigger.triggers[0] if isinstance(trigger, AllOf) else trigger
    return isinstance(lead, Interval)


def _repeats(trigger: Trigger) -> bool:
    match trigger:
        case Interval():
            return True
        case AtStage() as stage:
            return stage.every_days is not None
        case AfterEvent() as event:
            return event.every is not None
        case AllOf() as joined:
            return _repeats(joined.triggers[0])
        case _:
            return False


def open_next(orchard: Orchard, *, now: datetime, today: date) -> list[Task]:
    """Open every task of the care plan whose window has come; safe to run again.

    What the newest forecast no longer asks for falls away first. All of it is worked
    out while others write, then looked at again and written in short transactions: so
    call it outside a transaction.
    """
    # Before anything else: what is closed or opened from here on is seen again.
    newest = Task.objects.aggregate(newest=Max("pk"))["newest"] or 0
    jobs = _active_jobs(orchard)
    asked = [job for job, _plan in jobs]
    standing = _works(_of_jobs(asked, orchard).open(), asked)
    context = gather_context(orchard, today=today, jobs=_may_ask(jobs, orchard, today))
    weather = None
    if measurements.needs(asked) or any(map(measurements.counts_rain, asked)):
        weather = measurements.read_measurements(context, asked, now=now)
        fallen = cancel_obsolete.let_fall(context, weather, asked, now=now, today=today)
        standing -= Counter((task.target, task.key) for task in fallen)
    rows = [
        task
        for job, plan in jobs
        for task in _due_now(job, plan, context, weather, standing, now)
    ]
    if not rows:
        return []
    _name_anew(rows, orchard)
    if weather is not None:
        measurements.sort_by_loss(rows, weather, context)
    opened: list[Task] = []
    meanwhile: Counter[tuple[Target, str]] = Counter()
    for batch in in_batches(rows):
        with transaction.atomic():
            last = opened[-1].pk if opened else newest
            meanwhile += _works(_of_jobs(asked, orchard).filter(pk__gt=last), asked)
            still = _not_overtaken(batch, jobs, context, meanwhile)
            opened += _write(still, orchard, now=now, today=today, last=last)
    return opened


def open_after(orchard: Orchard, *, now: datetime, today: date) -> list[Task]:
    """Open what a record asks for that is in the book; call it after its transaction.

    The record stands: where the database cannot write any more, the night opens it.
    """
    try:
        return open_next(orchard, now=now, today=today)
    except DatabaseError as fault:
        if outage_in(fault) is None:
            raise
        logger.exception("The next tasks of %s wait for the night.", orchard.slug)
        return []


def _not_overtaken(
    rows: Sequence[Task],
    jobs: Iterable[tuple[CareJob, CarePlan]],
    context: Context,
    meanwhile: Collection[tuple[Target, str]],
) -> list[Task]:
    """Return the tasks that still fit what is in the book, with their trees locked.

    Since they were worked out a tree may have died or been moved, a job been switched
    off, its work been asked for by somebody and even done (`meanwhile`).
    """
    orchard = context.orchard
    trees = {task.tree_id for task in rows if task.tree_id is not None}
    places = dict(
        Tree.objects.filter(pk__in=trees, state=Tree.State.GROWING)
        .order_by("pk")
        .select_for_update(no_key=True)
        .values_list("pk", "spot_id")
    )
    keys = {task.key for task in rows}
    set_at = dict(
        CarePlan.objects.filter(orchard=orchard, job__in=keys, active=True)
        .order_by("pk")
        .select_for_update(no_key=True)
        .values_list("job", "set_at")
    )
    plans = [(job, plan) for job, plan in jobs if job.key in keys]
    unchanged = {job.key for job, plan in plans if set_at.get(job.key) == plan.set_at}
    asked = [job for job, _plan in plans]
    taken = {*_works(_open_beside(rows, orchard, asked), asked), *meanwhile}
    return [
        task
        for task in rows
        if task.key in unchanged
        and (task.target, task.key) not in taken
        and (
            (tree := context.growing(task.tree_id)) is None
            or places.get(tree.pk) == tree.spot_id
        )
    ]


def _open_beside(
    rows: Sequence[Task], orchard: Orchard, jobs: Iterable[CareJob]
) -> TaskQuerySet:
    """Return the open tasks of jobs where tasks are to be written.

    Those of trees by the trees: by the orchard all that is open would be read for each
    batch. Few batches hold work of blocks or of the orchard.
    """
    jobs = list(jobs)
    trees = {task.tree_id for task in rows}
    near = Task.objects.open().filter(_is_of(jobs), tree__in=trees - {None})
    if None in trees:
        near = near.union(_of_jobs(jobs, orchard).open().filter(tree=None))
    return near


def _write(
    rows: Sequence[Task], orchard: Orchard, *, now: datetime, today: date, last: int
) -> list[Task]:
    """Open tasks, and return those that no turn of the same work forbids.

    `last` is the number of the newest task before them.
    """
    Task.objects.bulk_create(rows, ignore_conflicts=True)
    mine = Task.objects.in_orchard(orchard).care().filter(made_at=now, pk__gt=last)
    written = {
        (Target.from_columns(tree, block), key, occurrence): pk
        for pk, tree, block, key, occurrence in mine.values_list(
            "pk", "tree_id", "block_id", "key", "occurrence"
        )
    }
    opened = []
    for task in rows:
        pk = written.get((task.target, task.key, task.occurrence))
        if pk is not None:
            # What a database skips it does not number, so it numbers none of them.
            task.pk, task._state.adding = pk, False
            opened.append(task)
    if opened:
        names = sorted({task.key for task in opened})
        audit.write(
            Verb.OPEN_NEXT,
            orchard,
            by=None,
            now=now,
            orchard=orchard,
            after={"opened": len(opened), "jobs": names, "day": today},
        )
    return opened


def _of_jobs(jobs: Iterable[CareJob], orchard: Orchard) -> TaskQuerySet:
    """Return the tasks of jobs, and those of signs that stand for one of them."""
    return Task.objects.in_orchard(orchard).filter(_is_of(jobs))


def _is_of(jobs: Iterable[CareJob]) -> Q:
    jobs = list(jobs)
    keys = [job.key for job in jobs]
    signs = [sign for job in jobs for sign in job.signs]
    by_key = Q(kind__in=Task.OF_A_JOB, key__in=keys)
    return by_key | Q(kind=Task.Kind.ACT, key__in=signs)


def _works(tasks: TaskQuerySet, jobs: Iterable[CareJob]) -> Counter[tuple[Target, str]]:
    """Count tasks by their targets and jobs.

    What a finding asks for stands for the job that looks for its sign.
    """
    by_sign = {sign: job.key for job in jobs for sign in job.signs}
    act = Task.Kind.ACT
    columns = tasks.values_list("kind", "key", "tree_id", "block_id")
    return Counter(
        (Target.from_columns(tree, block), by_sign[key] if kind == act else key)
        for kind, key, tree, block in columns
    )


def _active_jobs(orchard: Orchard) -> list[tuple[CareJob, CarePlan]]:
    """List the jobs that are on in an orchard and still in the guide."""
    book = guide.load().jobs
    plans = CarePlan.objects.filter(orchard=orchard, active=True).order_by("id")
    return [(book[plan.job], plan) for plan in plans if plan.job in book]


def _may_ask(
    jobs: Iterable[tuple[CareJob, CarePlan]], orchard: Orchard, today: date
) -> list[CareJob]:
    """List the jobs that any history could ask for today, and those measured."""
    earliest, latitude = today - days("catch_up_days"), float(orchard.latitude)
    return [
        job
        for job, plan in jobs
        if measurements.needs([job])
        or may_open(adapted(job.trigger, plan), earliest, today, latitude)
    ]


def _due_now(
    job: CareJob,
    plan: CarePlan,
    context: Context,
    weather: Weather | None,
    standing: Counter[tuple[Target, str]],
    now: datetime,
) -> Iterator[Task]:
    trigger = adapted(job.trigger, plan)
    since = plan.set_at.date()
    earliest = context.today - days("catch_up_days")
    if not may_open(trigger, earliest, context.today, context.latitude):
        return
    by_weather = weather if measurements.needs([job]) else None
    trees = trees_with(job, plan, context)
    free = context.free_of(trees, job)
    if trees and not free:
        return
    likeness = measurements.likeness(by_weather, context, job)
    rains = weather if measurements.counts_rain(job) else None
    asked: dict[Hashable, tuple[Window | None, Measurements | None]] = {}
    found: dict[tuple[History, date, Measurements | None], Window | None] = {}
    for subject in subjects(job, free, context):
        if (subject.target, job.key) in standing:
            continue
        # Trees alike are asked once: most of an orchard is.
        alike = likeness(subject)
        if alike in asked:
            window, measured = asked[alike]
        else:
            history = context.history(job, subject)
            measured = None
            if rains is not None:
                history = measurements.with_rain(history, rains, trigger)
            if by_weather is not None:
                measured = measurements.measurements_of(
                    by_weather, context, job, subject, history
                )
            known_since = max(since, subject.known_since)
            # Those with the same past and the same measurements have the same window.
            key = (history, known_since, measured)
            if key not in found:
                found[key] = current_window(
                    trigger,
                    history,
                    today=context.today,
                    latitude=context.latitude,
                    known_since=known_since,
                    measured=measured,
                )
            window = found[key]
            asked[alike] = window, measured
        if window is not None:
            yield _task(job, subject, window, context.orchard, now, measured)


def _name_anew(tasks: Sequence[Task], orchard: Orchard) -> None:
    """Name turns anew that fell away before, such as when the job was off."""
    fallen = {
        (Target.from_columns(tree, block), key, occurrence)
        for tree, block, key, occurrence in Closure.objects.filter(
            task__orchard=orchard,
            task__kind=Task.Kind.CARE,
            task__key__in={task.key for task in tasks},
            task__closed_at__isnull=False,
            how=Closure.How.CANCELLED,
            undone_at=None,
        ).values_list(
            "task__tree_id", "task__block_id", "task__key", "task__occurrence"
        )
    }
    for task in tasks:
        name, number = task.occurrence, 1
        while (task.target, task.key, task.occurrence) in fallen:
            number += 1
            task.occurrence = f"{name}{AGAIN}{number}"


def _rank_of(job: CareJob) -> int:
    if measurements.needs([job], "forecast_min"):
        return Task.RANK_OF_FROST_NIGHT
    if JobRole.PEST_WATCH in job.roles:
        return Task.RANK_OF_PEST_WATCH
    return Task.RANKS[Task.Kind.CARE]


def _task(
    job: CareJob,
    subject: Subject,
    window: Window,
    orchard: Orchard,
    now: datetime,
    measured: Measurements | None,
) -> Task:
    texts = [job.why]
    if measured is not None:
        texts.append(
            measurements.measured_words(job.trigger, window, measured, orchard)
        )
    if window.by_clock:
        texts.append(_("Be done by %(clock)s.") % {"clock": window.by_clock})
    return Task(
        orchard=orchard,
        block_id=subject.block_id,
        tree_id=subject.tree.pk if subject.tree else None,
        kind=Task.Kind.CARE,
        rank=_rank_of(job),
        key=job.key,
        occurrence=window.occurrence,
        title=job.name[:160],
        because=" ".join(part for part in texts if part)[:500],
        caution=job.caution[:500],
        opens_on=window.opens,
        due_on=window.due,
        rhythm_days=window.rhythm_days,
        made_at=now,
    )
