"""How a task ends, and how an end is taken back."""

from __future__ import annotations

from datetime import date, datetime
from typing import IO

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Closure, Inspection, Task, Tree, User
from orchard.services import fruit, ledger, photos, pictures
from orchard.services.refusal import Refused

How = Closure.How


class AlreadyClosed(Refused):
    """Somebody was here before: the work is closed."""


class NotClosed(Refused):
    """There is nothing to take back: the work is open."""


class NewerOneOpen(Refused):
    """The next turn of the same work is open already."""


class WrongDay(Refused):
    """The day cannot be right: in the future, or before the work could be done."""


class SaysNoReason(Refused):
    """Work may be skipped, but not without saying why."""


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
        NotCounted: a cut test without its numbers, or with too few fruit.
        AlreadyClosed: somebody closed it before.
        WrongDay: the day is in the future, before planting, or before the task opened.
        SaysNoReason: skipped without a reason.
        NoPicture: what was given as a photo is none.
    """
    reason, evidence = reason.strip(), evidence.strip()
    laid = photos.lay_down([pictures.read(photo)]) if photo else []
    try:
        with transaction.atomic():
            held = _hold(task)
            on = done_on or today
            _check_day(held, on, today=today)
            if how != How.DONE and not reason:
                raise SaysNoReason(
                    _("Say why this is left undone, so that the next person knows."),
                    field="reason",
                )
            counted = None
            if held.what == fruit.CUT_TEST and how == How.DONE:
                counted = fruit.count(fruit_cut, fruit_spoilt)
                evidence = f"{fruit.told(*counted)} {evidence}".strip()[:500]
            closure = _end(
                held,
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
                    orchard=held.orchard,
                    by=by,
                    now=now,
                    tree=held.tree,
                    closure=closure,
                    private=held.private,
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
        held = _hold(task)
        return _end(held, by=by, now=now, how=How.CANCELLED, on=today, reason=reason)


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
        NotClosed: the task is open.
        NewerOneOpen: the next turn of the same work is open already.
    """
    with transaction.atomic():
        held = _locked(task)
        closure = held.closures.filter(undone_at=None).first()
        if closure is None:
            raise NotClosed(_("This work is open already; there is nothing to undo."))
        _check_tree_grows(held)
        newer = (
            Task.objects.open()
            .filter(subject=held.subject, what=held.what)
            .exclude(pk=held.pk)
        )
        if newer.exists():
            raise NewerOneOpen(
                _(
                    "The next turn of this work is open already. Close that one, or "
                    "leave this one closed."
                )
            )
        closure.undone_at, closure.undone_by = now, by
        closure.full_clean()
        closure.save(update_fields=["undone_at", "undone_by"])
        held.closed_at = None
        held.save(update_fields=["closed_at"])
        ledger.write(
            "reopen",
            held,
            by=by,
            now=now,
            orchard=held.orchard,
            tree=held.tree,
            before=ledger.snapshot(closure, "how", "done_on", "reason", "evidence"),
            after={"open": True},
            private=held.private,
        )
    task.closed_at = None
    return held


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
    return not Task.objects.open().filter(subject=task.subject, what=task.what).exists()


def _locked(task: Task) -> Task:
    return (
        Task.objects.select_for_update(of=("self",))
        .select_related("tree", "orchard")
        .get(pk=task.pk)
    )


def _hold(task: Task) -> Task:
    """Lock a task that must still be open."""
    held = _locked(task)
    if held.closed_at is None:
        return held
    closure = held.closures.filter(undone_at=None).select_related("by").first()
    if closure is None or closure.by is None:
        raise AlreadyClosed(_("This work is closed already."))
    told = {"name": closure.by.name, "day": date_format(closure.done_on, "j M Y")}
    if closure.how == How.DONE:
        raise AlreadyClosed(
            _("%(name)s has done this already, on %(day)s. Nothing was changed.") % told
        )
    raise AlreadyClosed(
        _("%(name)s has closed this already, on %(day)s. Nothing was changed.") % told
    )


def _check_tree_grows(task: Task) -> None:
    if task.tree is not None and task.tree.state != Tree.State.GROWING:
        raise NotClosed(
            _("%(code)s no longer grows here, so its work stays closed.")
            % {"code": task.tree.code}
        )


def _check_day(task: Task, on: date, *, today: date) -> None:
    if on > today:
        raise WrongDay(
            _("That day is still to come. Give the day it was done."), field="done_on"
        )
    tree = task.tree
    planted = tree.planted_on if tree else None
    if tree and planted and on < planted:
        raise WrongDay(
            _("%(code)s was only planted on %(day)s. Give a later day.")
            % {"code": tree.code, "day": date_format(planted, "j M Y")},
            field="done_on",
        )
    if on < task.opens_on:
        raise WrongDay(
            _(
                "This work opens on %(day)s; what was done before that day cannot "
                "count for it."
            )
            % {"day": date_format(task.opens_on, "j M Y")},
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
    cut, spoilt = counted or (None, None)
    closure = Closure(
        task=task,
        how=how,
        by=by,
        done_on=on,
        closed_at=now,
        reason=reason,
        evidence=evidence,
        inspection=inspection,
        fruit_cut=cut,
        fruit_spoilt=spoilt,
    )
    closure.full_clean()
    closure.save()
    task.closed_at = now
    task.save(update_fields=["closed_at"])
    said = ["how", "done_on", "reason", "evidence"]
    if counted:
        said += ["fruit_cut", "fruit_spoilt"]
    ledger.write(
        "close",
        task,
        by=by,
        now=now,
        orchard=task.orchard,
        tree=task.tree,
        before={"open": True, "due_on": task.due_on},
        after=ledger.snapshot(closure, *said),
        reason=reason,
        private=task.private,
    )
    return closure
