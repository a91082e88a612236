"""What a finding calls for becomes work: act, look again, report."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Protocol

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import Closure, Finding, Inspection, Task, Tree, User
from orchard.science import guide, windows
from orchard.science.figures import days
from orchard.science.guide import Plan, Sign
from orchard.science.verdict import in_short, the_work
from orchard.science.words import Verdict
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.holds import LeftAlone
from orchard.services.tasks import closing, turns
from orchard.services.tasks.changes import REFRESHED, WorkChanges
from orchard.services.tasks.plans import matched_rule, plan_place
from orchard.services.tasks.rows import job_name

Kind = Task.Kind


class Called(Protocol):
    """What follow needs of a judgement."""

    @property
    def verdict(self) -> Verdict: ...
    @property
    def due_days(self) -> int | None: ...
    @property
    def recheck_days(self) -> int | None: ...
    @property
    def because(self) -> tuple[str, ...]: ...


@dataclass(frozen=True, slots=True)
class Wanted:
    """One task that a finding asks for."""

    kind: Task.Kind
    opens_on: date
    due_on: date
    rhythm_days: int


def open_from_finding(
    finding: Finding, judgement: Called, *, by: User, now: datetime
) -> list[Task]:
    """Open the work a finding calls for, or refresh what is open for its sign.

    Never a second task while one is open: that one takes the newest finding and the
    sooner due day. A look that was waiting for this sign is closed by the inspection.
    """
    with transaction.atomic():
        changes = WorkChanges()
        left_alone = LeftAlone([finding.tree])
        tasks = decide_on_finding(
            finding,
            judgement,
            changes,
            by=by,
            now=now,
            work=_lock_work(finding),
            left_alone=left_alone,
        )
        changes.write()
    return tasks


def decide_on_finding(
    finding: Finding,
    judgement: Called,
    changes: WorkChanges,
    *,
    by: User,
    now: datetime,
    work: Sequence[Task],
    left_alone: LeftAlone,
    done: bool = False,
) -> list[Task]:
    """Decide on the work that `open_from_finding` opens, without writing it.

    `work` is what is open at the tree, locked with it, and `left_alone` knows the
    tree. Work that was `done` at the look itself is opened whatever hold there is.
    """
    tree, inspection = finding.tree, finding.inspection
    look = _open_one(work, finding.sign, Kind.LOOK)
    # A look entered late does not count for a task that opened only after it.
    if look is not None and look.opens_on <= inspection.seen_on:
        endings = endings_by_look(inspection, [look], by, now)
        changes.end(endings, today=inspection.seen_on)
    if tree.state != Tree.State.GROWING:
        return []
    return [
        _open_or_refresh(finding, work, wanted, judgement.because, changes, by, now)
        for wanted in _wanted(finding, judgement)
        if done or not _is_put_off(finding, wanted, left_alone)
    ]


def decide_on_done(
    finding: Finding,
    tasks: Iterable[Task],
    changes: WorkChanges,
    *,
    by: User,
    now: datetime,
) -> list[Task]:
    """Decide to close the work a finding asked for, done at the look that found it.

    `tasks` are those just decided on for it; those to be closed are returned. None
    where it asked for no work, or for what a later look, come in before, has seen
    undone.
    """
    inspection = finding.inspection
    acts = [
        task
        for task in tasks
        if task.kind == Kind.ACT and task.finding_id == finding.pk
    ]
    evidence = _("Done at the tree, at the look that found it.")
    endings = endings_by_look(inspection, acts, by, now, evidence)
    changes.end(endings, today=inspection.seen_on)
    return acts


def work_done_at(inspection: Inspection) -> QuerySet[Closure]:
    """Return the closings of work that a look found, and that was done at once."""
    return Closure.objects.filter(
        inspection=inspection,
        undone_at=None,
        task__kind=Kind.ACT,
        task__finding__inspection=inspection,
    )


def reopen_done(inspection: Inspection, *, by: User, now: datetime) -> list[Closure]:
    """Take back that what a look found was done at once, before its findings retire."""
    done = list(
        work_done_at(inspection)
        .select_related("task__tree", "task__orchard")
        .order_by("pk")
    )
    for closure in done:
        if closing.can_reopen(closure.task):
            closing.reopen(closure.task, by=by, now=now)
    return done


def _lock_work(finding: Finding) -> list[Task]:
    """Lock what is open at a finding's tree; with it, what itself it asked for."""
    tree = finding.tree
    before = Task.objects.about(tree, finding.sign).exclude(closed_at=None)
    before = before.filter(turns.asked_by(finding))
    return [*closing.lock_open_work([tree])[tree.pk], *before]


def _open_one(work: Iterable[Task], sign: str, kind: str) -> Task | None:
    """Return the one task of a kind that is open for a sign."""
    return next(
        (
            task
            for task in work
            if task.closed_at is None and task.kind == kind and task.key == sign
        ),
        None,
    )


def endings_by_look(
    inspection: Inspection,
    tasks: Iterable[Task],
    by: User,
    now: datetime,
    evidence: str = "",
) -> list[closing.Ending]:
    """Return how tasks end by a look at their tree."""
    return [
        closing.Ending(
            task=task,
            by=inspection.by if inspection.written_by_id else by,
            written_by=inspection.written_by,
            now=now,
            done_on=inspection.seen_on,
            evidence=evidence or _("Looked at in an inspection."),
            inspection=inspection,
        )
        for task in tasks
    ]


def open_put_off(
    tree: Tree, *, since: datetime, by: User, now: datetime, today: date
) -> list[Task]:
    """Open the work that looks called for while the tree was to be left alone."""
    findings = (
        Finding.objects.current()
        .filter(tree=tree, inspection__received_at__gte=since)
        .select_related("tree__spot", "tree__orchard", "inspection")
        .order_by("inspection__seen_at", "pk")
    )
    newest = {finding.sign: finding for finding in findings}
    opened = []
    left_alone = LeftAlone([tree])
    for finding in newest.values():
        due = finding.due_on
        if due is None or finding.standing_verdict is not Verdict.ACT:
            continue
        seen_on = finding.inspection.seen_on
        days = max((due - seen_on).days, 1)
        # Nobody is late with what nobody was asked for.
        wanted = Wanted(Kind.ACT, seen_on, max(due, today), days)
        if (
            tree.state != Tree.State.GROWING
            or _is_put_off(finding, wanted, left_alone)
            or Task.objects.filter(finding=finding, kind=Kind.ACT).exists()
        ):
            continue
        because = tuple(finding.because)
        work = _lock_work(finding)
        changes = WorkChanges()
        opened.append(
            _open_or_refresh(finding, work, wanted, because, changes, by, now)
        )
        changes.write()
    return opened


def _is_put_off(finding: Finding, wanted: Wanted, left_alone: LeftAlone) -> bool:
    """Tell whether a hold forbids the work, so that no task is opened for it."""
    sign = guide.load().signs.get(finding.sign)
    step = None
    if sign is not None:
        step = the_work(_plan(wanted.kind, sign, finding).steps)
    if wanted.kind != Kind.ACT or step is None:
        return False
    # A hold that ends by itself only makes the work wait.
    return left_alone.forbids(finding.tree, step.kind)


def decide_on_look(
    inspection: Inspection,
    key: str,
    title: str,
    changes: WorkChanges,
    *,
    by: User,
    now: datetime,
) -> None:
    """Ask for a look at a tree that no sign asks for; once is enough."""
    tree = inspection.tree
    rhythm = days("worse_review_days").days
    opens_on = inspection.seen_on + timedelta(days=1)
    task = Task(
        orchard=tree.orchard,
        block_id=tree.spot.block_id,
        tree=tree,
        kind=Kind.LOOK,
        rank=Task.RANKS[Kind.ACT],
        key=key,
        occurrence=turns.turn_of_look(inspection),
        title=title[:160],
        opens_on=opens_on,
        due_on=inspection.seen_on + timedelta(days=rhythm),
        rhythm_days=rhythm,
        made_at=now,
    )
    _check(task)
    changes.open(task, by=by, now=now, shown=("title", "opens_on", "due_on"))


def tasks_of_findings(findings: Iterable[Finding]) -> list[Task]:
    """Return the tasks that findings opened, the most pressing sort first."""
    tasks = Task.objects.filter(finding__in=list(findings))
    return list(tasks.order_by("rank", "due_on", "pk"))


def retire(
    finding: Finding, *, by: User, now: datetime, reason: str, hushed: bool = False
) -> None:
    """Undo what followed from a finding that was corrected or withdrawn.

    Open work goes back to the findings that still stand, or falls away when there are
    none; a look that the inspection closed is open again. The reason of a look with a
    suspicion in it, or of a change that is `hushed`, goes only into private work.
    """
    tree, sign = finding.tree, finding.sign
    hushed = hushed or finding.inspection.has_private
    for_all = _("The inspection it came from was changed.") if hushed else reason
    with transaction.atomic():
        tasks = (
            Task.objects.open()
            .about(tree, sign)
            .select_related("orchard", "tree")
            .order_by("id")
        )
        for task in tasks:
            text = reason if task.private else for_all
            _go_back(task, finding, by=by, now=now, reason=text)
        looks = Closure.objects.filter(
            inspection=finding.inspection,
            undone_at=None,
            task__tree=tree,
            task__kind=Kind.LOOK,
            task__key=sign,
        ).select_related("task__tree", "task__orchard")
        for closure in looks:
            if closing.can_reopen(closure.task):
                closing.reopen(closure.task, by=by, now=now)


def _wanted(finding: Finding, judgement: Called) -> Iterable[Wanted]:
    seen_on = finding.inspection.seen_on
    verdict = Verdict(judgement.verdict)
    if verdict in (Verdict.ACT, Verdict.REPORT):
        wait = max(judgement.due_days or 0, 0)
        yield Wanted(
            kind=Kind.REPORT if verdict is Verdict.REPORT else Kind.ACT,
            opens_on=seen_on,
            due_on=seen_on + timedelta(days=wait),
            rhythm_days=max(wait, 1),
        )
    if judgement.recheck_days is not None:
        wait = max(judgement.recheck_days, 1)
        # A few days early will do, the longer the wait the more of them.
        early = min(days("look_early_most_days").days, windows.days_early(wait))
        yield Wanted(
            kind=Kind.LOOK,
            opens_on=seen_on + timedelta(days=max(1, wait - early)),
            due_on=seen_on + timedelta(days=wait),
            rhythm_days=wait,
        )


def _open_or_refresh(
    finding: Finding,
    work: Sequence[Task],
    wanted: Wanted,
    because: tuple[str, ...],
    changes: WorkChanges,
    by: User,
    now: datetime,
) -> Task:
    """Refresh the task that is open for a finding's sign, or open one."""
    task = _open_one(work, finding.sign, wanted.kind)
    if task is not None:
        _refresh(task, finding, wanted, because, changes, by=by, now=now)
        return task
    tree = finding.tree
    sign = guide.load().signs.get(finding.sign)
    task = Task(
        orchard=tree.orchard,
        block_id=tree.spot.block_id,
        tree=tree,
        kind=wanted.kind,
        rank=_rank_of(wanted.kind, sign, finding),
        key=finding.sign,
        occurrence=turns.next_turn(finding, wanted.kind, work),
        title=title_of(wanted.kind, finding),
        because=_why(finding, because),
        caution=_caution(wanted.kind, sign, finding),
        opens_on=wanted.opens_on,
        due_on=wanted.due_on,
        rhythm_days=wanted.rhythm_days,
        finding=finding,
        private=finding.private or wanted.kind == Kind.REPORT,
        made_at=now,
    )
    _check(task)
    shown = ("title", "opens_on", "due_on", "finding_id")
    changes.open(task, by=by, now=now, shown=shown)
    if wanted.kind == Kind.ACT:
        _take_over(task, work, changes, by=by, now=now)
    return task


def _rank_of(kind: str, sign: Sign | None, finding: Finding) -> int:
    if kind == Kind.LOOK and sign is not None and _may_be_reported(sign):
        return Task.RANK_OF_PEST_WATCH
    if kind == Kind.ACT and sign is not None and _endangers_people(sign, finding):
        return Task.RANK_OF_DANGER
    return Task.RANKS[Kind(kind)]


def _endangers_people(sign: Sign, finding: Finding) -> bool:
    """Tell whether the rule that a finding matched is about people on a path."""
    rule = matched_rule(sign, finding)
    return rule is not None and any(
        condition.fact == "over_path" for condition in rule.conditions
    )


def _may_be_reported(sign: Sign) -> bool:
    return any(rule.verdict is Verdict.REPORT for rule in sign.rules)


def _take_over(
    task: Task, work: Iterable[Task], changes: WorkChanges, *, by: User, now: datetime
) -> None:
    """Let the plan's task of the same work fall away: the finding asks for it now."""
    jobs = {job.key for job in guide.load().jobs.values() if task.key in job.signs}
    reason = _("A finding asks for it: %(title)s") % {"title": task.title}
    same = [
        (care, reason)
        for care in work
        if care.closed_at is None and care.kind == Kind.CARE and care.key in jobs
    ]
    changes.fall_away(same, by=by, now=now, today=task.opens_on)


def _check(task: Task) -> None:
    """Check the fields; rows, uniqueness and constraints the database holds itself."""
    task.full_clean(
        exclude=["orchard", "block", "tree", "finding"],
        validate_unique=False,
        validate_constraints=False,
    )


def title_of(kind: str, finding: Finding) -> str:
    """Write what a task about a finding asks for, in one line."""
    name = job_name(Kind(kind), finding.sign)
    if kind != Kind.ACT:
        return name[:160]
    sign = guide.load().signs.get(finding.sign)
    rule = matched_rule(sign, finding) if sign else None
    if rule is not None and rule.title:
        return rule.title[:160]
    step = the_work(_plan(kind, sign, finding).steps) if sign else None
    if step is None:
        return (_("Act on: %(sign)s") % {"sign": name})[:160]
    return f"{name}. {step.do}"[:160]


def _plan(kind: str, sign: Sign, finding: Finding) -> Plan:
    return sign.plan(plan_place(kind, sign, finding))


def _caution(kind: str, sign: Sign | None, finding: Finding) -> str:
    return " ".join(_plan(kind, sign, finding).caution)[:500] if sign else ""


def _why(finding: Finding, because: Iterable[str]) -> str:
    """Say in a line why there is work; the finding itself tells the whole of it."""
    return in_short(tuple(because), finding.rule)[:500]


def _refresh(
    task: Task,
    finding: Finding,
    wanted: Wanted,
    because: tuple[str, ...],
    changes: WorkChanges,
    *,
    by: User,
    now: datetime,
) -> None:
    before = audit.snapshot(task, *REFRESHED)
    if wanted.due_on < task.due_on:
        task.due_on = wanted.due_on
        task.opens_on = min(task.opens_on, wanted.opens_on)
        task.rhythm_days = wanted.rhythm_days
    earlier = task.finding
    if earlier is None or finding.inspection.seen_at >= earlier.inspection.seen_at:
        _rest_on(task, finding, because)
    task.private = task.private or finding.private
    _note_change(task, before, changes, by=by, now=now)


def _rest_on(task: Task, finding: Finding, because: Iterable[str]) -> None:
    """Let a task ask for what the rule that this finding matched has done."""
    sign = guide.load().signs.get(finding.sign)
    task.finding = finding
    task.because = _why(finding, because)
    task.title = title_of(task.kind, finding)
    task.caution = _caution(task.kind, sign, finding)
    task.rank = _rank_of(task.kind, sign, finding)


def _note_change(
    task: Task,
    before: dict[str, object],
    changes: WorkChanges,
    *,
    by: User,
    now: datetime,
    reason: str = "",
) -> None:
    """Keep an open task as it now is, if anything changed of what it was `before`."""
    after = audit.snapshot(task, *before)
    if before == after:
        return
    _check(task)
    line = audit.line(
        Verb.REFRESH,
        task,
        by=by,
        now=now,
        orchard=task.orchard,
        tree=task.tree,
        before=before,
        after=after,
        reason=reason,
        private=task.private,
    )
    changes.refresh(task, line)


def _go_back(
    task: Task, finding: Finding, *, by: User, now: datetime, reason: str
) -> None:
    """Rest a task on the findings left since it was last closed, or let it fall."""
    last_closed = (
        Task.objects.same_work(task)
        .exclude(pk=task.pk)
        .order_by("-finding_id")
        .values_list("finding_id", flat=True)
        .first()
    )
    day = "recheck_on" if task.kind == Kind.LOOK else "due_on"
    left = (
        Finding.objects.current()
        .filter(tree_id=finding.tree_id, sign=finding.sign, pk__gt=last_closed or 0)
        .filter(**{f"{day}__isnull": False})
        .exclude(pk=finding.pk)
        .select_related("inspection")
    )
    if task.kind != Kind.LOOK:
        verdict = Verdict.REPORT if task.kind == Kind.REPORT else Verdict.ACT
        left = left.filter(Q(override=verdict) | Q(override="", verdict=verdict))
    standing = list(left.order_by("inspection__seen_at", "pk"))
    if not standing:
        seen_on = finding.inspection.seen_on
        closing.fall_away(task, by=by, now=now, today=seen_on, reason=reason)
        return
    fields = ("title", "caution", "due_on", "opens_on", "finding_id", "because")
    before = audit.snapshot(task, *fields)
    _rest_on(task, standing[-1], standing[-1].because)
    task.due_on = min(getattr(row, day) for row in standing)
    task.opens_on = min(task.opens_on, task.due_on)
    changes = WorkChanges()
    _note_change(task, before, changes, by=by, now=now, reason=reason)
    changes.write()
