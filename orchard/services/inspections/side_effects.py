"""What a look at a tree brings about besides its findings."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime

from django.db import transaction
from django.db.models import Subquery
from django.utils.translation import gettext as _

from orchard.records.models import Finding, Inspection, SecondLook, Task, Tree, User
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.tasks import close as close_task
from orchard.services.tasks import look_done


def close_ticked(
    inspection: Inspection, numbers: Collection[int], *, by: User, now: datetime
) -> tuple[int, ...]:
    """Close the ticked tasks of the tree; return those that were closed before."""
    if not numbers:
        return ()
    tasks = {task.pk: task for task in _ticked(inspection.tree, numbers)}
    before = []
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
            continue
        close_task(
            task,
            by=by,
            now=now,
            today=inspection.seen_on,
            done_on=inspection.seen_on,
            evidence=_("Ticked off at the tree, in an inspection."),
            inspection=inspection,
        )
    return tuple(before)


def _ticked(tree: Tree, numbers: Iterable[int]) -> Iterable[Task]:
    """Return the tasks meant; what is private is closed with its case, not here."""
    mine: Iterable[Task] = tree.tasks.not_private().filter(pk__in=list(numbers))
    return mine


def looks_done(inspection: Inspection, *, by: User, now: datetime) -> None:
    """A tree found all well has been looked at for everything that was to be looked at.

    Not for what is private: a case ends with the authority's answer.
    """
    looks = (
        inspection.tree.tasks.open()
        .not_private()
        .filter(kind=Task.Kind.LOOK)
        .values_list("key", flat=True)
    )
    for sign in list(looks):
        look_done(inspection.tree, sign, inspection, by=by, now=now)


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
