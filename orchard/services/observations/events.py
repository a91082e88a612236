"""Happenings and growth stages: noted, corrected, withdrawn, never erased."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import Happening, Orchard, StageNote, Task, Tree, User
from orchard.science import guide
from orchard.science.events import EventKind
from orchard.services import audit, care_plan, corrections
from orchard.services.audit import Verb
from orchard.services.errors import Refused

OF_WHOLE_ORCHARD = frozenset(kind for kind in EventKind if kind.of_whole_orchard)


def note_event(
    orchard: Orchard,
    *,
    what: str,
    happened_on: date,
    by: User,
    now: datetime,
    tree: Tree | None = None,
    note: str = "",
) -> Happening:
    """Note that something happened to a tree, or to the whole orchard.

    Raises:
        Refused (wrong_day): in the future, or while the tree was not here.
        Refused (only_of_a_tree): it cannot happen to a whole orchard.
        Refused (note_missing): "something else" without saying what.
    """
    row = Happening(
        orchard=orchard,
        tree=tree,
        what=what,
        happened_on=happened_on,
        note=note.strip(),
        by=by,
        received_at=now,
    )
    _check_happening(row, now)
    return audit.save(Verb.NOTE, row, by=by, now=now)


def note_stage(
    orchard: Orchard,
    *,
    bbch: int,
    seen_on: date,
    by: User,
    now: datetime,
    tree: Tree | None = None,
    group: str = "",
) -> StageNote:
    """Note a growth stage (BBCH) of one tree, or of all trees of a group.

    Raises:
        Refused (no_such_stage): the code is none of the scale, or neither tree nor
            group is given.
        Refused (wrong_day): in the future, or while the tree was not here.
    """
    row = StageNote(
        orchard=orchard,
        tree=tree,
        group="" if tree else group.strip(),
        bbch=bbch,
        seen_on=seen_on,
        by=by,
        received_at=now,
    )
    _check_stage(row, now)
    return audit.save(Verb.NOTE, row, by=by, now=now)


def note_stage_and_open(
    orchard: Orchard, *, by: User, now: datetime, today: date, **noted: Any
) -> tuple[StageNote, list[Task]]:
    """Note a growth stage, and open at once the work that waited for it.

    Raises:
        Refused (no_such_stage, wrong_day): as for `note_stage`.
    """
    row = note_stage(orchard, by=by, now=now, **noted)
    return row, care_plan.open_after(orchard, now=now, today=today)


def note_event_and_open(
    orchard: Orchard, *, by: User, now: datetime, today: date, **noted: Any
) -> tuple[Happening, list[Task]]:
    """Note an event, and open at once the work that follows it.

    Raises:
        Refused (wrong_day, only_of_a_tree, note_missing): as for `note_event`.
    """
    row = note_event(orchard, by=by, now=now, **noted)
    return row, care_plan.open_after(orchard, now=now, today=today)


def correct_event(
    happening: Happening, *, by: User, now: datetime, reason: str, **changes: Any
) -> Happening:
    """Put a newer note in place of one about a happening; the old one stays readable.

    Raises:
        Refused (reason_missing): no reason is given. not_current, wrong_day and others
            as `note`.
    """
    with transaction.atomic():
        old = corrections.lock_current(happening, by)
        row = Happening(
            orchard=old.orchard,
            tree=old.tree,
            what=changes.get("what", old.what),
            happened_on=changes.get("happened_on", old.happened_on),
            note=changes.get("note", old.note).strip(),
            by=by,
            received_at=now,
        )
        _check_happening(row, now)
        return corrections.put_in_place(
            Verb.CORRECT, old, row, by=by, now=now, reason=reason
        )


def correct_stage(
    stage: StageNote, *, by: User, now: datetime, reason: str, **changes: Any
) -> StageNote:
    """Put a newer note in place of one about a growth stage.

    Raises:
        Refused (reason_missing): no reason is given. not_current and others as
            `note_stage`.
    """
    with transaction.atomic():
        old = corrections.lock_current(stage, by)
        row = StageNote(
            orchard=old.orchard,
            tree=old.tree,
            group=old.group,
            bbch=changes.get("bbch", old.bbch),
            seen_on=changes.get("seen_on", old.seen_on),
            by=by,
            received_at=now,
        )
        _check_stage(row, now)
        return corrections.put_in_place(
            Verb.CORRECT, old, row, by=by, now=now, reason=reason
        )


def withdraw_event(
    happening: Happening, *, by: User, now: datetime, reason: str
) -> Happening:
    """Withdraw a note about a happening that did not happen; it stays readable.

    Raises:
        Refused (reason_missing): no reason is given. not_current: it no longer stands.
    """
    return corrections.withdraw(happening, by=by, now=now, reason=reason)


def withdraw_stage(
    stage: StageNote, *, by: User, now: datetime, reason: str
) -> StageNote:
    """Withdraw a note about a growth stage; it stays readable.

    Raises:
        Refused (reason_missing): no reason is given. not_current: it no longer stands.
    """
    return corrections.withdraw(stage, by=by, now=now, reason=reason)


def carry_over(
    stage: StageNote, *, to: Tree, by: User, now: datetime, reason: str
) -> StageNote:
    """Move a note about a growth stage to the tree on which it was really seen.

    Raises:
        Refused (wrong_day): that tree was not here on the day. reason_missing: no
            reason is given.
    """
    with transaction.atomic():
        row = StageNote(
            orchard=to.orchard,
            tree=to,
            bbch=stage.bbch,
            seen_on=stage.seen_on,
            by=stage.by,
            received_at=stage.received_at,
        )
        _check_stage(row, now)
        return corrections.put_in_place(
            Verb.MOVE, stage, row, by=by, now=now, reason=reason
        )


def _check_happening(row: Happening, now: datetime) -> None:
    corrections.check_day(
        row.tree, row.happened_on, field="happened_on", today=_today(row, now)
    )
    if row.tree is None and row.what not in OF_WHOLE_ORCHARD:
        raise Refused(
            _("That happens to one tree. Note it on the tree's own page."),
            code="only_of_a_tree",
            field="what",
        )
    if row.what == EventKind.OTHER and not row.note:
        raise Refused(
            _("Say in a few words what happened."), code="note_missing", field="note"
        )


def _check_stage(row: StageNote, now: datetime) -> None:
    corrections.check_day(
        row.tree, row.seen_on, field="seen_on", today=_today(row, now)
    )
    if row.bbch not in guide.load().stages:
        raise Refused(
            _("%(code)s is no growth stage of the guide. Choose one from the list.")
            % {"code": row.bbch},
            code="no_such_stage",
            field="bbch",
        )
    if row.tree is None and not row.group:
        raise Refused(
            _("Say which trees show this stage."), code="no_such_stage", field="group"
        )


def _today(row: Happening | StageNote, now: datetime) -> date:
    return day_in(now, row.orchard.time_zone)
