"""What a look at a tree brings about besides its findings."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime

from django.db import transaction
from django.db.models import Q, Subquery
from django.utils.translation import gettext as _

from orchard.records.models import Finding, Inspection, SecondLook, Task, Tree, User
from orchard.science import guide
from orchard.science.figures import figure
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.tasks import close_all, endings_by_look, open_look

# The key of a look that no sign asks for but the fall of a tree's condition.
CONDITION = "condition"


def close_ticked(
    inspection: Inspection, numbers: Collection[int], *, by: User, now: datetime
) -> tuple[int, ...]:
    """Close the ticked tasks of the tree; return those that were closed before."""
    if not numbers:
        return ()
    tasks = {task.pk: task for task in _ticked(inspection.tree, numbers)}
    before, to_close = [], []
    for number in numbers:
        task = tasks.get(number)
        if task is None:
            raise Refused(
                _("One of the ticked tasks is not a task of %(tree)s. Untick it.")
                % {"tree": inspection.tree.code},
                code="no_such_task",
                field="task",
            )
        if task.closed_at is not None:
            before.append(number)
        else:
            to_close.append(task)
    evidence = _("Ticked off at the tree, in an inspection.")
    close_all(
        endings_by_look(inspection, to_close, by, now, evidence),
        today=inspection.seen_on,
    )
    return tuple(before)


def _ticked(tree: Tree, numbers: Iterable[int]) -> Iterable[Task]:
    """Return the tasks meant; what is private is closed with its case, not here."""
    mine: Iterable[Task] = tree.tasks.not_private().filter(pk__in=list(numbers))
    return mine


def close_what_was_seen(
    inspection: Inspection, signs: Collection[str], *, by: User, now: datetime
) -> None:
    """Close the looks and the care that a look at the tree has done.

    All well proves every look and every such job; a look that found signs proves those
    jobs that look for none of their own, and those whose signs it found. A look at a
    fallen condition is done by any. Not what is private: a case ends with the
    authority's answer.
    """
    jobs = [
        job.key
        for job in guide.load().jobs.values()
        if job.seen_by_look
        if inspection.all_well or not job.signs or set(job.signs) & set(signs)
    ]
    looks = Q(kind=Task.Kind.LOOK)
    if not inspection.all_well:
        looks &= Q(key=CONDITION)
    tasks = (
        inspection.tree.tasks.open()
        .not_private()
        .filter(looks | Q(kind=Task.Kind.CARE, key__in=jobs))
        .filter(opens_on__lte=inspection.seen_on)
        .order_by("id")
    )
    close_all(endings_by_look(inspection, tasks, by, now), today=inspection.seen_on)


def watch_condition(inspection: Inspection, *, by: User, now: datetime) -> None:
    """Put a tree on the board that fell by two steps, or lower twice in a row.

    It stands there until the next look.
    """
    tree = inspection.tree
    if inspection.condition is None or tree.state != Tree.State.GROWING:
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
        open_look(inspection, CONDITION, title % words, by=by, now=now)


def renew(tree: Tree) -> None:
    """Keep on the tree when it was last seen and how it last stood."""
    current = Inspection.objects.current().filter(tree=tree).newest_first()
    Tree.objects.filter(pk=tree.pk).update(
        last_seen_on=Subquery(current.values("seen_on")[:1]),
        condition=Subquery(current.exclude(condition=None).values("condition")[:1]),
    )


def renew_by(inspection: Inspection, tree: Tree) -> None:
    """Keep on the tree what a new look says of it; the row is held by the caller."""
    if inspection.condition is not None:
        renew(tree)
    elif tree.last_seen_on is None or tree.last_seen_on < inspection.seen_on:
        Tree.objects.filter(pk=tree.pk).update(last_seen_on=inspection.seen_on)


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
