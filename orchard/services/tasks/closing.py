"""How a task ends, and how an end is taken back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import IO

from django.db import transaction
from django.db.models import OuterRef, Q, Subquery
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import (
    Change,
    Closure,
    CutTest,
    Inspection,
    Task,
    Tree,
    User,
)
from orchard.science.words import JobRole
from orchard.services import audit, holds, permissions, photos
from orchard.services.audit import Verb
from orchard.services.batches import in_batches
from orchard.services.errors import Refused, require_reason
from orchard.services.partial_days import when_planted
from orchard.services.tasks import entry

How = Closure.How


@dataclass(frozen=True, slots=True)
class Ending:
    """How one task ends: by whom, when, how, and what proves it.

    A cut test takes the number of fruit cut and of those spoilt.
    """

    task: Task
    by: User | None
    now: datetime
    done_on: date
    # Who wrote it down, where that is somebody else.
    written_by: User | None = None
    how: str = How.DONE
    reason: str = ""
    evidence: str = ""
    inspection: Inspection | None = None
    fruit_cut: int | None = None
    fruit_spoilt: int | None = None


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
    photo: IO[bytes] | None = None,
    fruit_cut: int | None = None,
    fruit_spoilt: int | None = None,
    written_by: User | None = None,
    despite_hold: str = "",
) -> Closure:
    """Close a task as done or skipped, and say by whom, when and what proves it.

    What somebody did may be `written_by` another. Work where nobody could enter is kept
    as a breach where `despite_hold` says what happened.

    Raises:
        Refused: as `close_all`.
        Refused (entry_hold): the tree was closed after a treatment.
        Refused (no_member_then): whoever did it was no member on that day.
        Refused (bad_picture): what was given as a photo is none.
    """
    if written_by == by:
        written_by = None
    if written_by is not None:
        permissions.check_was_member(task.orchard, by, on=done_on or today)
    hold = ""
    if how == How.DONE:
        on = done_on or today
        hold = entry.check_entry(task, on, despite_hold=despite_hold, now=now)
    laid = photos.lay_down([photos.read_picture(photo)]) if photo else []
    ending = Ending(
        task=task,
        by=by,
        written_by=written_by,
        now=now,
        done_on=done_on or today,
        how=how,
        reason=reason,
        evidence=evidence,
        fruit_cut=fruit_cut,
        fruit_spoilt=fruit_spoilt,
    )
    try:
        with audit.written_down_by(written_by), transaction.atomic():
            [closure] = close_all([ending], today=today)
            locked = closure.task
            if hold:
                entry.keep_breach(
                    closure, hold, despite_hold, by=by, now=now, today=today
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


def close_all(endings: Iterable[Ending], *, today: date) -> list[Closure]:
    """Close many tasks, all of them or none, in as many queries as one task needs.

    Raises:
        Refused (not_counted): a cut test without its numbers, or with too few fruit.
        Refused (already_closed): somebody closed it before.
        Refused (wrong_day): the day is in the future, before planting, or before the
            task opened.
        Refused (reason_missing): skipped without a reason.
    """
    endings = list(endings)
    if not endings:
        return []
    with transaction.atomic():
        locked = _lock_open([ending.task for ending in endings])
        return end_checked(
            [
                checked(replace(ending, task=task), today=today)
                for ending, task in zip(endings, locked, strict=True)
            ]
        )


def checked(ending: Ending, *, today: date) -> Ending:
    """Return how a locked task ends, with its words as they are kept.

    Its tree and its orchard are at hand.

    Raises:
        Refused: as `close_all`.
    """
    _check_day(ending.task, ending.done_on, today=today)
    reason, evidence = ending.reason.strip(), ending.evidence.strip()
    if ending.how != How.DONE:
        reason = require_reason(reason)
    if not _is_counted(ending):
        return replace(
            ending,
            reason=reason,
            evidence=evidence,
            fruit_cut=None,
            fruit_spoilt=None,
        )
    cut, spoilt = holds.check_cut_test(ending.fruit_cut, ending.fruit_spoilt)
    words = f"{holds.cut_test_words(cut, spoilt)} {evidence}".strip()[:500]
    return replace(
        ending, reason=reason, evidence=words, fruit_cut=cut, fruit_spoilt=spoilt
    )


def _is_counted(ending: Ending) -> bool:
    return ending.how == How.DONE and ending.task.has_role(JobRole.CUT_TEST)


def fall_away(
    task: Task, *, by: User | None, now: datetime, today: date, reason: str
) -> Closure:
    """Close a task that no longer has an object; nobody is late with it.

    Raises:
        Refused (already_closed): somebody closed it before.
    """
    with transaction.atomic():
        falling = zip(_lock_open([task]), [reason], strict=True)
        [closure] = end_checked(endings_of_fallen(falling, by=by, now=now, today=today))
    return closure


def fall_away_all(
    tasks: Iterable[tuple[Task, str]], *, by: User | None, now: datetime, today: date
) -> list[Closure]:
    """Let many tasks fall away, each for its reason, and return how they ended.

    What somebody has closed meanwhile stays as it is. Outside a transaction they fall
    in short ones, so that nobody waits for all of them.
    """
    closures = []
    for batch in in_batches(list(tasks)):
        with transaction.atomic():
            locked = lock(task.pk for task, _reason in batch)
            falling = [
                (task, reason)
                for task, (_task, reason) in zip(locked, batch, strict=True)
                if task.closed_at is None
            ]
            closures += end_checked(
                endings_of_fallen(falling, by=by, now=now, today=today)
            )
    return closures


def endings_of_fallen(
    tasks: Iterable[tuple[Task, str]], *, by: User | None, now: datetime, today: date
) -> list[Ending]:
    """Return how tasks end that fall away, each for its reason."""
    return [
        Ending(task, by, now, today, how=How.CANCELLED, reason=reason)
        for task, reason in tasks
    ]


def cancel_all(
    tree: Tree, *, by: User, now: datetime, today: date, reason: str
) -> list[Closure]:
    """Let every open task of a tree fall away, such as when the tree has died."""
    with transaction.atomic():
        tasks = Task.objects.filter(tree=tree).open().order_by("id")
        return fall_away_all(
            [(task, reason) for task in tasks], by=by, now=now, today=today
        )


def reopen(task: Task, *, by: User, now: datetime) -> Task:
    """Take back the closing of a task; the closure stays readable as taken back.

    Raises:
        Refused (not_closed): the task is open.
        Refused (newer_one_open): the next turn of the same work is open already.
    """
    with transaction.atomic():
        [locked] = lock([task.pk])
        closure = locked.closures.filter(undone_at=None).first()
        if closure is None:
            raise Refused(
                _("This task is open already. There is nothing to undo."),
                code="not_closed",
            )
        _check_tree_grows(locked)
        newer = Task.objects.open().same_work(locked).exclude(pk=locked.pk)
        if newer.exists():
            raise Refused(
                _(
                    "The next task of this job is open already. Close that one, or "
                    "leave this one closed."
                ),
                code="newer_one_open",
            )
        closure.undone_at, closure.undone_by = now, by
        audit.save_row(closure, ["undone_at", "undone_by"])
        locked.closed_at = None
        locked.save(update_fields=["closed_at"])
        audit.write_lines([_reopened(locked, closure, by, now)])
    task.closed_at = None
    return locked


def reopen_all(
    closures: Iterable[Closure], *, by: User, now: datetime
) -> list[tuple[Task, str]]:
    """Take back many closings at once; return what stays closed, each with why."""
    with transaction.atomic():
        stand = {closure.task_id: closure for closure in closures}
        locked = lock(stand)
        trees = {task.tree_id for task in locked}
        newer = {
            task.work
            for task in Task.objects.open().filter(
                Q(tree__in=trees) | Q(tree=None),
                orchard__in={task.orchard_id for task in locked},
                key__in={task.key for task in locked},
            )
        }
        left: list[tuple[Task, str]] = []
        opened = []
        for task in locked:
            if task.tree is not None and task.tree.state != Tree.State.GROWING:
                left.append((task, _("the tree no longer grows here")))
            elif task.work in newer:
                left.append((task, _("its next turn is open already")))
            else:
                newer.add(task.work)
                opened.append(task)
        numbers = [task.pk for task in opened]
        taken_back = Closure.objects.filter(task__in=numbers, undone_at=None)
        taken_back.update(undone_at=now, undone_by=by)
        Task.objects.filter(pk__in=numbers).update(closed_at=None)
        audit.write_lines(_reopened(task, stand[task.pk], by, now) for task in opened)
    return left


def _reopened(task: Task, closure: Closure, by: User, now: datetime) -> Change:
    return audit.line(
        Verb.REOPEN,
        task,
        by=by,
        now=now,
        orchard=task.orchard,
        tree=task.tree,
        before=audit.snapshot(closure, "how", "done_on", "reason", "evidence"),
        after={"open": True},
        private=task.private,
    )


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


def lock_open_work(trees: Iterable[Tree]) -> dict[int, list[Task]]:
    """Lock the open tasks of trees, oldest first, each with its tree at hand."""
    by_number = {tree.pk: tree for tree in trees}
    work: dict[int, list[Task]] = {number: [] for number in by_number}
    tasks = Task.objects.open().filter(tree__in=by_number)
    for task in tasks.select_for_update(no_key=True).order_by("id"):
        tree = by_number[task.tree_id or 0]
        task.tree, task.orchard = tree, tree.orchard
        work[tree.pk].append(task)
    return work


def lock(numbers: Iterable[int], *beside: str) -> list[Task]:
    """Lock tasks, each row in the order of its number, and return them as given.

    Their trees and orchards come along, and what else is to be read `beside` them.
    """
    numbers = list(numbers)
    rows = (
        Task.objects.select_for_update(of=("self",), no_key=True)
        .select_related("tree", "orchard", *beside)
        .filter(pk__in=numbers)
        .order_by("id")
    )
    locked = {row.pk: row for row in rows}
    for task in locked.values():
        if task.tree is not None:
            task.tree.orchard = task.orchard
    return [locked[number] for number in numbers]


def _lock_open(tasks: Iterable[Task]) -> list[Task]:
    """Lock tasks that must still be open."""
    locked = lock(task.pk for task in tasks)
    for task in locked:
        if task.closed_at is not None:
            raise _closed_before(task)
    return locked


def _closed_before(task: Task) -> Refused:
    closure = task.closures.filter(undone_at=None).select_related("by").first()
    if closure is None or closure.by is None:
        return Refused(_("This task is closed already."), code="already_closed")
    words = {"name": closure.by.name, "day": date_format(closure.done_on, "j M Y")}
    if closure.how == Closure.How.DONE:
        return Refused(
            _("%(name)s has done this already, on %(day)s. Nothing was changed.")
            % words,
            code="already_closed",
        )
    return Refused(
        _("%(name)s has closed this already, on %(day)s. Nothing was changed.") % words,
        code="already_closed",
    )


def _check_tree_grows(task: Task) -> None:
    if task.tree is not None and task.tree.state != Tree.State.GROWING:
        raise Refused(
            _("%(code)s no longer grows here, so its task stays closed.")
            % {"code": task.tree.code},
            code="not_closed",
        )


def _check_day(task: Task, on: date, *, today: date) -> None:
    if on > today:
        raise Refused(
            _("That day is in the future. Enter the day it was done."),
            code="wrong_day",
            field="done_on",
        )
    tree = task.tree
    planted = tree.planted_on if tree else None
    if tree and planted and on < planted:
        raise Refused(
            _("%(code)s was only planted %(when)s. Give a later day.")
            % {"code": tree.code, "when": when_planted(tree)},
            code="wrong_day",
            field="done_on",
        )
    if on < task.opens_on:
        raise Refused(
            _(
                "This task opens on %(day)s. What was done before that doesn't count "
                "for it."
            )
            % {"day": date_format(task.opens_on, "j M Y")},
            code="wrong_day",
            field="done_on",
        )


def end_checked(endings: Sequence[Ending]) -> list[Closure]:
    """End locked tasks that were `checked`, each with its line in the ledger."""
    if not endings:
        return []
    closures = [
        Closure(
            task=ending.task,
            how=ending.how,
            by=ending.by,
            written_by=ending.written_by,
            done_on=ending.done_on,
            closed_at=ending.now,
            reason=ending.reason,
            evidence=ending.evidence,
            inspection=ending.inspection,
        )
        for ending in endings
    ]
    audit.save_new_rows(closures)
    cut_tests = {
        closure.pk: CutTest(
            closure=closure,
            fruit_cut=ending.fruit_cut,
            fruit_spoilt=ending.fruit_spoilt,
        )
        for ending, closure in zip(endings, closures, strict=True)
        if ending.fruit_cut is not None and ending.fruit_spoilt is not None
    }
    CutTest.objects.bulk_create(cut_tests.values())
    _keep_moments(endings)
    audit.write_lines(
        _line(ending, closure, cut_tests.get(closure.pk))
        for ending, closure in zip(endings, closures, strict=True)
    )
    return closures


def _keep_moments(endings: Sequence[Ending]) -> None:
    """Keep on each task when it was closed, as the closures just written tell it."""
    for ending in endings:
        ending.task.closed_at = ending.now
    rows = Task.objects.filter(pk__in=[ending.task.pk for ending in endings])
    moments = {ending.now for ending in endings}
    if len(moments) == 1:
        rows.update(closed_at=moments.pop())
        return
    closures = Closure.objects.filter(task=OuterRef("pk"), undone_at=None)
    rows.update(closed_at=Subquery(closures.values("closed_at")))


def _line(ending: Ending, closure: Closure, cut_test: CutTest | None) -> Change:
    task = ending.task
    after = audit.snapshot(closure, "how", "done_on", "reason", "evidence")
    if cut_test is not None:
        after |= audit.snapshot(cut_test, "fruit_cut", "fruit_spoilt")
    return audit.line(
        Verb.CLOSE,
        task,
        by=ending.by,
        now=ending.now,
        orchard=task.orchard,
        tree=task.tree,
        before={"open": True, "due_on": task.due_on},
        after=after,
        reason=ending.reason,
        private=task.private,
    )
