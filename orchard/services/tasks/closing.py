"""How a task ends, and how an end is taken back."""

from __future__ import annotations

from datetime import date, datetime
from typing import IO

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Closure, CutTest, Inspection, Task, Tree, User
from orchard.science.words import JobRole
from orchard.services import audit, holds, photos
from orchard.services.audit import Verb
from orchard.services.errors import Refused, require_reason
from orchard.services.partial_days import planting_day

How = Closure.How


def close(
    task: Task,
    *,
    by: User,
    now: datetime,
    today: date,
    how: str = How.DONE,
    done_on: date | None = None,
    reason: str = "",
    evidence: str = "",
    inspection: Inspection | None = None,
    photo: IO[bytes] | None = None,
    fruit_cut: int | None = None,
    fruit_spoilt: int | None = None,
) -> Closure:
    """Close a task as done or skipped, and say by whom, when and what proves it.

    A cut test takes the number of fruit cut and of those spoilt.

    Raises:
        Refused (not_counted): a cut test without its numbers, or with too few fruit.
        Refused (already_closed): somebody closed it before.
        Refused (wrong_day): the day is in the future, before planting, or before the
            task opened.
        Refused (reason_missing): skipped without a reason.
        Refused (bad_picture): what was given as a photo is none.
    """
    reason, evidence = reason.strip(), evidence.strip()
    laid = photos.lay_down([photos.read_picture(photo)]) if photo else []
    try:
        with transaction.atomic():
            locked = _lock_open(task)
            on = done_on or today
            _check_day(locked, on, today=today)
            if how != How.DONE:
                require_reason(reason)
            counted = None
            if locked.has_role(JobRole.CUT_TEST) and how == How.DONE:
                counted = holds.check_cut_test(fruit_cut, fruit_spoilt)
                evidence = f"{holds.cut_test_words(*counted)} {evidence}".strip()[:500]
            closure = _end(
                locked,
                by=by,
                now=now,
                how=how,
                on=on,
                reason=reason,
                evidence=evidence,
                inspection=inspection,
                counted=counted,
            )
            for name, picture in laid:
                photos.enter(
                    name,
                    picture,
                    orchard=locked.orchard,
                    by=by,
                    now=now,
                    tree=locked.tree,
                    closure=closure,
                    private=locked.private,
                )
    finally:
        # Files cannot be rolled back: what the book did not take is removed again.
        photos.take_away_unentered(name for name, _picture in laid)
    return closure


def fall_away(
    task: Task, *, by: User | None, now: datetime, today: date, reason: str
) -> Closure:
    """Close a task that no longer has an object; nobody is late with it."""
    with transaction.atomic():
        locked = _lock_open(task)
        return _end(locked, by=by, now=now, how=How.CANCELLED, on=today, reason=reason)


def cancel_all(
    tree: Tree, *, by: User, now: datetime, today: date, reason: str
) -> list[Closure]:
    """Let every open task of a tree fall away, such as when the tree has died."""
    with transaction.atomic():
        tasks = Task.objects.filter(tree=tree).open().order_by("id")
        return [
            fall_away(task, by=by, now=now, today=today, reason=reason)
            for task in tasks
        ]


def reopen(task: Task, *, by: User, now: datetime) -> Task:
    """Take back the closing of a task; the closure stays readable as taken back.

    Raises:
        Refused (not_closed): the task is open.
        Refused (newer_one_open): the next turn of the same work is open already.
    """
    with transaction.atomic():
        locked = _locked(task)
        closure = locked.closures.filter(undone_at=None).first()
        if closure is None:
            raise Refused(
                _("This work is open already; there is nothing to undo."),
                code="not_closed",
            )
        _check_tree_grows(locked)
        newer = Task.objects.open().same_work(locked).exclude(pk=locked.pk)
        if newer.exists():
            raise Refused(
                _(
                    "The next turn of this work is open already. Close that one, or "
                    "leave this one closed."
                ),
                code="newer_one_open",
            )
        closure.undone_at, closure.undone_by = now, by
        audit.save_row(closure, ["undone_at", "undone_by"])
        locked.closed_at = None
        locked.save(update_fields=["closed_at"])
        audit.write(
            Verb.REOPEN,
            locked,
            by=by,
            now=now,
            orchard=locked.orchard,
            tree=locked.tree,
            before=audit.snapshot(closure, "how", "done_on", "reason", "evidence"),
            after={"open": True},
            private=locked.private,
        )
    task.closed_at = None
    return locked


def reopen_those_of(inspection: Inspection, *, by: User, now: datetime) -> list[Task]:
    """Take back every closing that an inspection brought about, where it can be."""
    with transaction.atomic():
        reopened = []
        closures = (
            Closure.objects.filter(inspection=inspection, undone_at=None)
            .select_related("task__tree", "task__orchard")
            .order_by("-id")
        )
        for closure in closures:
            if can_reopen(closure.task):
                reopened.append(reopen(closure.task, by=by, now=now))
        return reopened


def can_reopen(task: Task) -> bool:
    """Tell whether a closed task may be opened again."""
    if task.closed_at is None:
        return False
    if task.tree is not None and task.tree.state != Tree.State.GROWING:
        return False
    return not Task.objects.open().same_work(task).exists()


def _locked(task: Task) -> Task:
    return (
        Task.objects.select_for_update(of=("self",))
        .select_related("tree", "orchard")
        .get(pk=task.pk)
    )


def _lock_open(task: Task) -> Task:
    """Lock a task that must still be open."""
    locked = _locked(task)
    if locked.closed_at is None:
        return locked
    closure = locked.closures.filter(undone_at=None).select_related("by").first()
    if closure is None or closure.by is None:
        raise Refused(_("This work is closed already."), code="already_closed")
    words = {"name": closure.by.name, "day": date_format(closure.done_on, "j M Y")}
    if closure.how == How.DONE:
        raise Refused(
            _("%(name)s has done this already, on %(day)s. Nothing was changed.")
            % words,
            code="already_closed",
        )
    raise Refused(
        _("%(name)s has closed this already, on %(day)s. Nothing was changed.") % words,
        code="already_closed",
    )


def _check_tree_grows(task: Task) -> None:
    if task.tree is not None and task.tree.state != Tree.State.GROWING:
        raise Refused(
            _("%(code)s no longer grows here, so its work stays closed.")
            % {"code": task.tree.code},
            code="not_closed",
        )


def _check_day(task: Task, on: date, *, today: date) -> None:
    if on > today:
        raise Refused(
            _("That day is still to come. Give the day it was done."),
            code="wrong_day",
            field="done_on",
        )
    tree = task.tree
    planted = tree.planted_on if tree else None
    if tree and planted and on < planted:
        raise Refused(
            _("%(code)s was only planted on %(day)s. Give a later day.")
            % {"code": tree.code, "day": planting_day(tree)},
            code="wrong_day",
            field="done_on",
        )
    if on < task.opens_on:
        raise Refused(
            _(
                "This work opens on %(day)s; what was done before that day cannot "
                "count for it."
            )
            % {"day": date_format(task.opens_on, "j M Y")},
            code="wrong_day",
            field="done_on",
        )


def _end(
    task: Task,
    *,
    by: User | None,
    now: datetime,
    how: str,
    on: date,
    reason: str = "",
    evidence: str = "",
    inspection: Inspection | None = None,
    counted: tuple[int, int] | None = None,
) -> Closure:
    closure = Closure(
        task=task,
        how=how,
        by=by,
        done_on=on,
        closed_at=now,
        reason=reason,
        evidence=evidence,
        inspection=inspection,
    )
    audit.save_row(closure)
    after = audit.snapshot(closure, "how", "done_on", "reason", "evidence")
    if counted:
        cut, spoilt = counted
        result = CutTest.objects.create(
            closure=closure, fruit_cut=cut, fruit_spoilt=spoilt
        )
        after |= audit.snapshot(result, "fruit_cut", "fruit_spoilt")
    task.closed_at = now
    task.save(update_fields=["closed_at"])
    audit.write(
        Verb.CLOSE,
        task,
        by=by,
        now=now,
        orchard=task.orchard,
        tree=task.tree,
        before={"open": True, "due_on": task.due_on},
        after=after,
        reason=reason,
        private=task.private,
    )
    return closure
