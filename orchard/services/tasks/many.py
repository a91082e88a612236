"""One deed on many tasks: taken, handed over, closed, skipped, moved, and undone.

Each is one transaction. What cannot be done with a task leaves it as it is and is said,
the others are done.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import IO, Any

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import BulkChange, Closure, Membership, Task, User
from orchard.science.words import JobRole
from orchard.services import audit, photos
from orchard.services.audit import Verb
from orchard.services.errors import Refused, require_reason
from orchard.services.permissions import Deed, may
from orchard.services.tasks import blockers, closing
from orchard.services.tasks.assignment import worker_in
from orchard.services.tasks.board import (
    BoardBand,
    BoardFilters,
    GroupKey,
    filtered,
    in_band,
    in_group,
)
from orchard.services.tasks.rows import open_tasks_seen_by, with_names

MOST_AT_ONCE = 500
# What names a task that a deed left as it is, and says why.
NAMES = ("tree__kind", "block", "taken_by", "finding", "request")
# Work whose result is more than words is closed where the result is entered.
RESULTS = (JobRole.CUT_TEST, JobRole.WATERING, JobRole.RIPENESS_TEST)


@dataclass(frozen=True, slots=True)
class LeftTask:
    """A task that a deed left as it is, and why."""

    task: Task
    why: str


@dataclass(frozen=True, slots=True)
class BulkOutcome:
    """What a deed did to many tasks; `change` undoes it, None where nothing changed."""

    done: int
    left: tuple[LeftTask, ...]
    change: BulkChange | None


def choose_tasks(
    member: Membership,
    *,
    today: date,
    filters: BoardFilters,
    numbers: Iterable[int] = (),
    groups: Iterable[GroupKey] = (),
    bands: Iterable[BoardBand] = (),
) -> list[Task]:
    """Return the open tasks that somebody chose: single ones, lines and bands.

    Filters narrow lines and bands, as they do on the board.

    Raises:
        Refused (nothing_chosen): none of them is open here.
        Refused (too_many): they are more than can be changed at once.
    """
    seen = with_names(open_tasks_seen_by(member)).order_by("due_on", "id")
    lines = [in_group(group, today) for group in groups]
    lines += [in_band(band, today) for band in bands]
    chosen = list(seen.filter(pk__in=list(numbers)[: MOST_AT_ONCE + 1]))
    if lines:
        any_line = lines[0]
        for line in lines[1:]:
            any_line |= line
        rows = filtered(seen, member, filters, today).filter(any_line)
        chosen += rows[: MOST_AT_ONCE + 1]
    found = list({task.pk: task for task in chosen}.values())
    if not found:
        raise Refused(
            _("No task is chosen. Tick tasks or whole lines first."),
            code="nothing_chosen",
        )
    if len(found) > MOST_AT_ONCE:
        raise Refused(
            _("More than %(most)d tasks are chosen. Choose fewer, or filter by block.")
            % {"most": MOST_AT_ONCE},
            code="too_many",
        )
    return found


def take_many(tasks: Sequence[Task], *, by: User, now: datetime) -> BulkOutcome:
    """Take of many tasks those that nobody has."""

    def why_not(task: Task) -> str:
        if task.taken_by == by:
            return _("you have it already")
        if task.taken_by is not None:
            return _("%(name)s has it") % {"name": task.taken_by.name}
        return ""

    return _hand(BulkChange.Deed.TAKE, Verb.TAKE, tasks, by, why_not, by=by, now=now)


def hand_over_many(
    tasks: Sequence[Task], *, to: User | None, by: User, now: datetime
) -> BulkOutcome:
    """Give many tasks to a member who may work, or to nobody.

    Raises:
        Refused (cannot_take_on): the person may not work here.
    """
    member = worker_in(tasks[0].orchard, to) if to is not None else None

    def why_not(task: Task) -> str:
        if task.taken_by == to:
            return _("nothing to change")
        if task.private and member and not may(member, Deed.SEE_PRIVATE):
            return _("it is private")
        return ""

    deed, verb = BulkChange.Deed.HAND_OVER, Verb.HAND_OVER
    return _hand(deed, verb, tasks, to, why_not, by=by, now=now)


def close_many(
    tasks: Sequence[Task],
    *,
    by: User,
    now: datetime,
    today: date,
    done_on: date,
    evidence: str = "",
    photo: IO[bytes] | None = None,
) -> BulkOutcome:
    """Close many tasks as done, with one evidence and one photo for all of them.

    What yields a result (litres, a test) and what has to wait today is left open. Call
    it outside a transaction, because the photo is written to the store first.

    Raises:
        Refused (wrong_day): the day is in the future.
        Refused (bad_picture): what was given as a photo is none.
    """
    if done_on > today:
        raise Refused(
            _("%(day)s is in the future. Enter the day it was done.")
            % {"day": date_format(done_on, "j M Y")},
            code="wrong_day",
            field="done_on",
        )
    circumstances = blockers.circumstances(tasks[0].orchard, today=today, now=now)

    def why_not(task: Task) -> str:
        if task.kind == Task.Kind.REPORT:
            return _("a report is closed on its own page")
        if any(task.has_role(role) for role in RESULTS):
            return _("its result is entered on its own page")
        return " ".join(blockers.why_it_waits(task, circumstances))

    def ending(task: Task) -> closing.Ending:
        return closing.Ending(task, by, now, done_on, evidence=evidence)

    laid = photos.lay_down([photos.read_picture(photo)]) if photo else []

    def prove(closures: Sequence[Closure]) -> None:
        for name, picture in laid:
            photos.enter_as_proof(
                name,
                picture,
                closures,
                orchard=tasks[0].orchard,
                by=by,
                now=now,
                private=any(closure.task.private for closure in closures),
            )

    try:
        return _close(tasks, ending, why_not, prove, by=by, now=now, today=today)
    finally:
        photos.take_away_unentered(name for name, _picture in laid)


def skip_many(
    tasks: Sequence[Task], *, by: User, now: datetime, today: date, reason: str
) -> BulkOutcome:
    """Skip this turn of many tasks, for one reason.

    Raises:
        Refused (reason_missing): no reason is given.
    """
    reason = require_reason(reason)

    def why_not(task: Task) -> str:
        if task.kind == Task.Kind.REPORT:
            return _("a report is closed on its own page")
        return ""

    def ending(task: Task) -> closing.Ending:
        how = Closure.How.SKIPPED
        return closing.Ending(task, by, now, today, how=how, reason=reason)

    return _close(tasks, ending, why_not, by=by, now=now, today=today)


def move_many(
    tasks: Sequence[Task],
    *,
    due_on: date,
    by: User,
    now: datetime,
    today: date,
    reason: str = "",
) -> BulkOutcome:
    """Move the day by which many tasks are due; a report keeps its day.

    Raises:
        Refused (wrong_day): the day is in the past.
    """
    if due_on < today:
        raise Refused(
            _("%(day)s is in the past. Enter a day from today on.")
            % {"day": date_format(due_on, "j M Y")},
            code="wrong_day",
            field="due_on",
        )
    with transaction.atomic():
        rows, left = _still_open(tasks, _why_not_moved)
        before = {task.pk: _window(task) for task in rows}
        for task in rows:
            task.due_on, task.opens_on = due_on, min(task.opens_on, due_on)
        _save_windows(rows, before, by=by, now=now, reason=reason.strip())
        change = note_change(
            BulkChange.Deed.MOVE_DAY, rows, before, due_on.isoformat(), by=by, now=now
        )
    return BulkOutcome(len(rows), left, change)


def cancel_many(
    tasks: Sequence[Task], *, by: User, now: datetime, today: date, reason: str
) -> BulkOutcome:
    """Cancel many tasks that are not wanted any more, for one reason.

    Raises:
        Refused (reason_missing): no reason is given.
    """
    reason = require_reason(reason)

    def ending(task: Task) -> closing.Ending:
        how = Closure.How.CANCELLED
        return closing.Ending(task, by, now, today, how=how, reason=reason)

    return _close(tasks, ending, lambda task: "", by=by, now=now, today=today)


def undo_many(change: BulkChange, *, by: User, now: datetime) -> BulkOutcome:
    """Undo a deed on many tasks, where they still are as it left them.

    Raises:
        Refused (undone_before): it has been undone.
    """
    with transaction.atomic():
        row = BulkChange.objects.select_for_update(no_key=True).get(pk=change.pk)
        if row.undone_at is not None:
            raise Refused(
                _("This was undone before. Nothing was changed."), code="undone_before"
            )
        row.undone_at = now
        row.save(update_fields=["undone_at"])
        tasks = closing.lock(map(int, row.before), *NAMES)
        if row.deed == BulkChange.Deed.CLOSE:
            left = _reopen(row, tasks, by=by, now=now)
        elif row.deed == BulkChange.Deed.MOVE_DAY:
            left = _move_back(row, tasks, by=by, now=now)
        elif row.deed == BulkChange.Deed.MAKE:
            left = _unmake(row, tasks, by=by, now=now)
        else:
            left = _hand_back(row, tasks, by=by, now=now)
    return BulkOutcome(len(tasks) - len(left), tuple(left), None)


def _still_open(
    tasks: Iterable[Task], why_not: Callable[[Task], str]
) -> tuple[list[Task], tuple[LeftTask, ...]]:
    """Lock tasks and part those that a deed can be done with from the others."""
    rows, left = [], []
    for task in closing.lock((task.pk for task in tasks), *NAMES):
        why = _("it was just closed") if task.closed_at is not None else why_not(task)
        if why:
            left.append(LeftTask(task, why))
        else:
            rows.append(task)
    return rows, tuple(left)


def note_change(
    deed: BulkChange.Deed,
    rows: Sequence[Task],
    before: dict[int, Any],
    after: Any,
    *,
    by: User,
    now: datetime,
) -> BulkChange | None:
    """Note what was done to many tasks, so that it can be undone at once."""
    if not rows:
        return None
    return BulkChange.objects.create(
        orchard=rows[0].orchard,
        by=by,
        made_at=now,
        deed=deed,
        before={str(task.pk): before[task.pk] for task in rows},
        after=after,
    )


def _close(
    tasks: Sequence[Task],
    ending: Callable[[Task], closing.Ending],
    why_not: Callable[[Task], str],
    prove: Callable[[Sequence[Closure]], None] | None = None,
    *,
    by: User,
    now: datetime,
    today: date,
) -> BulkOutcome:
    with transaction.atomic():
        rows, left = _still_open(tasks, why_not)
        endings, refused = [], []
        for task in rows:
            try:
                endings.append(closing.checked(ending(task), today=today))
            except Refused as refusal:
                refused.append(LeftTask(task, str(refusal)))
        closures = closing.end_checked(endings)
        if closures and prove is not None:
            prove(closures)
        closed = [each.task for each in endings]
        before = dict.fromkeys((task.pk for task in closed), None)
        deed = BulkChange.Deed.CLOSE
        change = note_change(deed, closed, before, None, by=by, now=now)
    return BulkOutcome(len(closed), (*left, *refused), change)


def _reopen(
    change: BulkChange, tasks: Iterable[Task], *, by: User, now: datetime
) -> list[LeftTask]:
    numbers = [task.pk for task in tasks]
    closures = Closure.objects.filter(
        task__in=numbers, undone_at=None, closed_at=change.made_at, by=change.by
    )
    stand = list(closures)
    left = [LeftTask(*row) for row in closing.reopen_all(stand, by=by, now=now)]
    there = {closure.task_id for closure in stand}
    others = [task for task in tasks if task.pk not in there]
    return [*left, *(LeftTask(task, _("it was changed since")) for task in others)]


def _unmake(
    change: BulkChange, tasks: Iterable[Task], *, by: User, now: datetime
) -> list[LeftTask]:
    """Let added tasks fall away that nobody has touched since."""
    reason = _("Added by mistake, undone at once.")
    left, fallen = [], []
    for task in tasks:
        if (
            task.closed_at is not None
            or task.taken_by_id != change.before[str(task.pk)]
        ):
            left.append(LeftTask(task, _("it was changed since")))
        else:
            how = Closure.How.CANCELLED
            fallen.append(
                closing.Ending(task, by, now, task.opens_on, how=how, reason=reason)
            )
    closing.end_checked(fallen)
    return left


def _hand(
    deed: BulkChange.Deed,
    verb: Verb,
    tasks: Sequence[Task],
    to: User | None,
    why_not: Callable[[Task], str],
    *,
    by: User,
    now: datetime,
) -> BulkOutcome:
    with transaction.atomic():
        rows, left = _still_open(tasks, why_not)
        before = {task.pk: task.taken_by_id for task in rows}
        _save_takers(verb, [(task, to) for task in rows], by=by, now=now)
        after = to.pk if to else None
        change = note_change(deed, rows, before, after, by=by, now=now)
    return BulkOutcome(len(rows), left, change)


def _save_takers(
    verb: Verb, rows: Iterable[tuple[Task, User | None]], *, by: User, now: datetime
) -> None:
    lines = []
    tasks = []
    for task, to in rows:
        was, task.taken_by = task.taken_by, to
        tasks.append(task)
        lines.append(
            audit.line(
                verb,
                task,
                by=by,
                now=now,
                orchard=task.orchard,
                tree=task.tree,
                before={"taken_by": was.name if was else None},
                after={"taken_by": to.name if to else None},
                private=task.private,
            )
        )
    Task.objects.bulk_update(tasks, ["taken_by"])
    audit.write_lines(lines)


def _hand_back(
    change: BulkChange, tasks: Iterable[Task], *, by: User, now: datetime
) -> list[LeftTask]:
    holders = {number for number in change.before.values() if number is not None}
    standing = Membership.objects.in_orchard(change.orchard).standing()
    members = {
        member.user_id: member
        for member in standing.filter(user__in=holders).select_related("user")
    }

    def holder(task: Task) -> User | None:
        """Return who had the task, if this person may still have it."""
        member = members.get(change.before[str(task.pk)])
        if member is None or not may(member, Deed.WORK):
            return None
        if task.private and not may(member, Deed.SEE_PRIVATE):
            return None
        return member.user

    left, rows = [], []
    for task in tasks:
        if task.closed_at is not None or task.taken_by_id != change.after:
            left.append(LeftTask(task, _("it was changed since")))
        else:
            rows.append(task)
    is_returned = change.deed == BulkChange.Deed.TAKE
    verb = Verb.GIVE_BACK if is_returned else Verb.HAND_OVER
    given = [(task, holder(task)) for task in rows]
    _save_takers(verb, given, by=by, now=now)
    return left


def _why_not_moved(task: Task) -> str:
    if task.kind == Task.Kind.REPORT:
        return _("a report keeps its day")
    return ""


def _window(task: Task) -> list[str]:
    return [task.opens_on.isoformat(), task.due_on.isoformat()]


def _move_back(
    change: BulkChange, tasks: Iterable[Task], *, by: User, now: datetime
) -> list[LeftTask]:
    left, rows, before = [], [], {}
    for task in tasks:
        if task.closed_at is not None or task.due_on.isoformat() != change.after:
            left.append(LeftTask(task, _("it was changed since")))
            continue
        before[task.pk] = _window(task)
        opens_on, due_on = change.before[str(task.pk)]
        task.opens_on = date.fromisoformat(opens_on)
        task.due_on = date.fromisoformat(due_on)
        rows.append(task)
    _save_windows(rows, before, by=by, now=now)
    return left


def _save_windows(
    rows: Sequence[Task],
    before: dict[int, list[str]],
    *,
    by: User,
    now: datetime,
    reason: str = "",
) -> None:
    Task.objects.bulk_update(rows, ["opens_on", "due_on"])
    audit.write_lines(
        audit.line(
            Verb.MOVE_DAY,
            task,
            by=by,
            now=now,
            orchard=task.orchard,
            tree=task.tree,
            before=dict(zip(("opens_on", "due_on"), before[task.pk], strict=True)),
            after=audit.snapshot(task, "opens_on", "due_on"),
            reason=reason,
            private=task.private,
        )
        for task in rows
    )
