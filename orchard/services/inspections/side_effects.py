"""What a look at a tree brings about besides its findings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime

from django.db import transaction
from django.db.models import Subquery
from django.utils.translation import gettext as _

from orchard.records.models import Finding, Inspection, SecondLook, Task, Tree, User
from orchard.science import guide
from orchard.science.figures import figure
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.tasks import (
    Ending,
    WorkChanges,
    decide_on_look,
    endings_by_look,
)

# The key of a look that no sign asks for but the fall of a tree's condition.
CONDITION = "condition"


def read_ticked(
    inspection: Inspection,
    numbers: Collection[int],
    *,
    by: User,
    now: datetime,
    work: Iterable[Task],
) -> tuple[list[Ending], tuple[int, ...]]:
    """Return how the ticked tasks of the tree end, and those of them closed before.

    `work` is what is open at it. What is private is closed with its case, not here.
    """
    tree = inspection.tree
    tasks = {task.pk: task for task in work if not task.private}
    closed = [number for number in numbers if number not in tasks]
    if closed:
        tasks |= tree.tasks.not_private().exclude(closed_at=None).in_bulk(closed)
    before, open_ones = [], []
    for number in numbers:
        task = tasks.get(number)
        if task is None:
            raise Refused(
                _("One of the ticked tasks is not a task of %(tree)s. Untick it.")
                % {"tree": tree.code},
                code="no_such_task",
                field="task",
            )
        if task.closed_at is not None:
            before.append(number)
        else:
            open_ones.append(task)
    evidence = _("Ticked off at the tree, in an inspection.")
    return endings_by_look(inspection, open_ones, by, now, evidence), tuple(before)


def end_what_was_seen(
    inspection: Inspection,
    signs: Collection[str],
    changes: WorkChanges,
    *,
    by: User,
    now: datetime,
    work: Iterable[Task],
    ticked: Sequence[Ending] = (),
) -> None:
    """Decide to close the looks and the care that a look has done, and what it ticked.

    All well proves every look and every such job; a look that found signs proves those
    jobs that look for none of their own, and those whose signs it found. A look at a
    fallen condition is done by any. Not what is private: a case ends with the
    authority's answer. `work` is what was open at the tree. A photo without a word
    proves nothing.
    """
    if inspection.photo_only:
        return
    jobs = {
        job.key
        for job in guide.load().jobs.values()
        if job.seen_by_look
        if inspection.all_well or not job.signs or set(job.signs) & set(signs)
    }
    done = {ending.task.pk for ending in ticked}

    def is_seen(task: Task) -> bool:
        if task.kind == Task.Kind.LOOK:
            return inspection.all_well or task.key == CONDITION
        return task.kind in Task.OF_A_JOB and task.key in jobs

    tasks = [
        task
        for task in work
        if task.closed_at is None
        and task.pk not in done
        and not task.private
        and task.opens_on <= inspection.seen_on
        and is_seen(task)
    ]
    endings = [*ticked, *endings_by_look(inspection, tasks, by, now)]
    changes.end(endings, today=inspection.seen_on)


def watch_condition(
    inspection: Inspection, changes: WorkChanges, *, by: User, now: datetime
) -> None:
    """Decide on a look at a tree that fell by two steps, or lower twice in a row.

    It stands on the board until the next look.
    """
    tree = inspection.tree
    if inspection.condition is None or tree.state != Tree.State.GROWING:
        return
    if _is_newest(inspection, tree) and not _fell(inspection, tree):
        return
    lately = (
        Inspection.objects.current()
        .filter(tree=tree, seen_at__lte=inspection.seen_at)
        .newest_first()
        .values_list("condition", flat=True)
        .exclude(condition=None)[:3]
    )
    newest, *before = [condition for condition in lately if condition is not None]
    if not before:
        return
    fell = before[0] - newest >= figure("condition_fall_steps").value
    slid = len(before) > 1 and newest < before[0] < before[1]
    if fell or slid:
        words = {"before": before[0] if fell else before[1], "now": newest}
        title = _("Look at the tree: its condition fell from %(before)d to %(now)d")
        decide_on_look(inspection, CONDITION, title % words, changes, by=by, now=now)


def _is_newest(inspection: Inspection, tree: Tree) -> bool:
    """Tell whether every other look at a tree was before the day of this one.

    Of one that corrects another nobody knows, as the tree still shows the other.
    """
    if inspection.corrects_id is not None:
        return False
    return tree.last_seen_on is None or tree.last_seen_on < inspection.seen_on


def _fell(inspection: Inspection, tree: Tree) -> bool:
    """Tell whether a tree stands lower now than when it was last judged."""
    now, before = inspection.condition, tree.condition
    return now is not None and before is not None and now < before


def renew(tree: Tree) -> None:
    """Keep on the tree when it was last seen and how it last stood."""
    current = Inspection.objects.current().filter(tree=tree).newest_first()
    Tree.objects.filter(pk=tree.pk).update(
        last_seen_on=Subquery(current.checks().values("seen_on")[:1]),
        condition=Subquery(current.exclude(condition=None).values("condition")[:1]),
    )


def renew_by(inspections: Iterable[Inspection]) -> None:
    """Keep on trees what a new look at each says of it; the caller holds the rows."""
    newest: dict[tuple[date, int | None], list[int]] = defaultdict(list)
    for inspection in inspections:
        tree = inspection.tree
        if inspection.photo_only:
            continue
        if _is_newest(inspection, tree):
            tree.last_seen_on = inspection.seen_on
            if inspection.condition is not None:
                tree.condition = inspection.condition
            newest[inspection.seen_on, tree.condition].append(tree.pk)
        elif inspection.condition is not None:
            renew(tree)
    # Of a morning's looks many say the same: fewer statements than trees.
    for (seen_on, condition), trees in newest.items():
        Tree.objects.filter(pk__in=trees).update(
            last_seen_on=seen_on, condition=condition
        )


def ask(finding: Finding, *, by: User, now: datetime, reason: str = "") -> SecondLook:
    """Put a finding in the queue for a more practised eye; once is enough."""
    with transaction.atomic():
        look, is_new = SecondLook.objects.get_or_create(
            finding=finding,
            defaults={
                "orchard": finding.tree.orchard,
                "asked_at": now,
                "reason": reason[:500],
            },
        )
        if is_new:
            audit.write(
                Verb.ASK,
                look,
                by=by,
                now=now,
                orchard=look.orchard,
                tree=finding.tree,
                reason=look.reason,
                private=finding.private,
            )
        return look
