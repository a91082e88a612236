"""Who has a task in hand: taken, given back, handed over."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Membership, Orchard, Task, User
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import MayNot, Refused
from orchard.services.permissions import Deed, may


def take_task(task: Task, *, by: User, now: datetime) -> Task:
    """Take a task that nobody has; the second of two people gets a sentence.

    Raises:
        Refused (taken_by_another): somebody has it, or it was closed in the meantime.
    """
    with transaction.atomic():
        mine = Task.objects.open().filter(pk=task.pk, taken_by=None).update(taken_by=by)
        if mine:
            return _written(Verb.TAKE, task, before=None, after=by, by=by, now=now)
        row = Task.objects.select_related("taken_by", "orchard").get(pk=task.pk)
        if row.closed_at is not None:
            raise Refused(_("This task was just closed."), code="taken_by_another")
        if row.taken_by == by:
            return row
        name = row.taken_by.name if row.taken_by else _("Somebody")
        raise Refused(
            _("%(name)s has this already. Ask them, or choose another.")
            % {"name": name},
            code="taken_by_another",
        )


def give_back_task(task: Task, *, by: User, now: datetime) -> Task:
    """Give back a task one has taken, so that others can take it.

    Raises:
        MayNot (not_yours): somebody else has it, or nobody.
    """
    with transaction.atomic():
        mine = Task.objects.open().filter(pk=task.pk, taken_by=by).update(taken_by=None)
        if not mine:
            raise MayNot(
                _("This task isn't yours, so you can't give it back."),
                code="not_yours",
            )
        return _written(Verb.GIVE_BACK, task, before=by, after=None, by=by, now=now)


def hand_over_task(task: Task, *, to: User | None, by: User, now: datetime) -> Task:
    """Give a task to a member who may work, or to nobody, whoever had it.

    Raises:
        Refused (cannot_take_on): the person may not work here, or may not see this
            work.
        Refused (taken_by_another): the task is closed.
    """
    with transaction.atomic():
        row = (
            Task.objects.select_for_update(of=("self",), no_key=True)
            .select_related("taken_by", "orchard", "tree")
            .get(pk=task.pk)
        )
        if row.closed_at is not None:
            raise Refused(_("This task was just closed."), code="taken_by_another")
        if to is not None:
            _check_can_take_on(row, to)
        before, row.taken_by = row.taken_by, to
        return audit.save(
            Verb.HAND_OVER,
            row,
            by=by,
            now=now,
            fields=["taken_by"],
            before=_who_has(before),
            after=_who_has(to),
            is_checked=True,
        )


def who_may_work(orchard: Orchard) -> list[Membership]:
    """List the members that tasks can be handed to, by name."""
    members = Membership.objects.in_orchard(orchard).standing().select_related("user")
    rows = members.order_by("user__name", "id")
    return [member for member in rows if may(member, Deed.WORK)]


def who_may_take_on(task: Task) -> list[Membership]:
    """List the members a task can be handed to, by name."""
    workers = who_may_work(task.orchard)
    return [member for member in workers if _may_take_on(task, member)]


def _may_take_on(task: Task, member: Membership) -> bool:
    if task.private and not may(member, Deed.SEE_PRIVATE):
        return False
    return may(member, Deed.WORK)


def _check_can_take_on(task: Task, to: User) -> None:
    member = (
        Membership.objects.in_orchard(task.orchard).standing().filter(user=to).first()
    )
    if member is None or not _may_take_on(task, member):
        raise Refused(
            _("%(name)s can't take this on. Choose somebody from the list.")
            % {"name": to.name},
            code="cannot_take_on",
            field="to",
        )


def worker_in(orchard: Orchard, person: User) -> Membership:
    """Return the membership of a person to whom tasks of an orchard can be given.

    Raises:
        Refused (cannot_take_on): the person may not work here.
    """
    members = Membership.objects.in_orchard(orchard).standing()
    member = members.filter(user=person).first()
    if member is None or not may(member, Deed.WORK):
        raise Refused(
            _("%(name)s can't take tasks here. Choose somebody from the list.")
            % {"name": person.name},
            code="cannot_take_on",
            field="to",
        )
    return member


def _written(
    verb: Verb,
    task: Task,
    *,
    before: User | None,
    after: User | None,
    by: User,
    now: datetime,
) -> Task:
    row = Task.objects.select_related("tree", "orchard", "taken_by").get(pk=task.pk)
    audit.write(
        verb,
        row,
        by=by,
        now=now,
        orchard=row.orchard,
        tree=row.tree,
        before=_who_has(before),
        after=_who_has(after),
        private=row.private,
    )
    return row


def _who_has(person: User | None) -> dict[str, Any]:
    return {"taken_by": person.name if person else None}
