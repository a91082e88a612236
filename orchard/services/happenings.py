"""Happenings and growth stages: noted, corrected, withdrawn, never erased."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import Happening, Orchard, StageNote, Tree, User
from orchard.science import guide
from orchard.services import access, ledger
from orchard.services.access import Deed
from orchard.services.refusal import Refused

Noted = TypeVar("Noted", Happening, StageNote)
OF_WHOLE_ORCHARD = (
    Happening.What.FROST_NIGHT,
    Happening.What.HARD_FROST,
    Happening.What.SEVERE_FROST,
    Happening.What.HEAVY_RAIN,
    Happening.What.OTHER,
)


class WrongDay(Refused):
    """The day is in the future, or the tree was not here then."""


class NoSuchStage(Refused):
    """The growth stage is none of the scale, or is noted on nothing."""


class NotCurrent(Refused):
    """The note was corrected or withdrawn before."""


class NotYours(Refused):
    """Notes of others are changed by those who lead."""


class SaysNothing(Refused):
    """A reason, or what happened, is missing."""


class OnlyOfATree(Refused):
    """This happens to one tree, not to a whole orchard."""


def note(
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
        WrongDay: in the future, or while the tree was not here.
        OnlyOfATree: it cannot happen to a whole orchard.
        SaysNothing: "something else" without saying what.
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
    with transaction.atomic():
        _check_happening(row, now)
        return _kept("note", row, by=by, now=now)


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
        NoSuchStage: the code is none of the scale, or neither tree nor group is given.
        WrongDay: in the future, or while the tree was not here.
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
    with transaction.atomic():
        _check_stage(row, now)
        return _kept("note", row, by=by, now=now)


def correct(
    happening: Happening, *, by: User, now: datetime, reason: str, **changes: Any
) -> Happening:
    """Put a newer note in place of one about a happening; the old one stays readable.

    Raises:
        SaysNothing: no reason is given. NotCurrent, WrongDay and others as `note`.
    """
    with transaction.atomic():
        old = _hold(Happening, happening, by)
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
        return _put_in_place("correct", old, row, by=by, now=now, reason=reason)


def correct_stage(
    stage: StageNote, *, by: User, now: datetime, reason: str, **changes: Any
) -> StageNote:
    """Put a newer note in place of one about a growth stage.

    Raises:
        SaysNothing: no reason is given. NotCurrent and others as `note_stage`.
    """
    with transaction.atomic():
        old = _hold(StageNote, stage, by)
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
        return _put_in_place("correct", old, row, by=by, now=now, reason=reason)


def withdraw(
    happening: Happening, *, by: User, now: datetime, reason: str
) -> Happening:
    """Withdraw a note about a happening that did not happen; it stays readable.

    Raises:
        SaysNothing: no reason is given. NotCurrent: it no longer stands.
    """
    return _withdrawn("withdraw", Happening, happening, by, now, reason)


def withdraw_stage(
    stage: StageNote, *, by: User, now: datetime, reason: str
) -> StageNote:
    """Withdraw a note about a growth stage; it stays readable.

    Raises:
        SaysNothing: no reason is given. NotCurrent: it no longer stands.
    """
    return _withdrawn("withdraw", StageNote, stage, by, now, reason)


def carry_over(
    stage: StageNote, *, to: Tree, by: User, now: datetime, reason: str
) -> StageNote:
    """Move a note about a growth stage to the tree on which it was really seen.

    Raises:
        WrongDay: that tree was not here on the day. SaysNothing: no reason is given.
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
        return _put_in_place("move", stage, row, by=by, now=now, reason=reason)


def _check_happening(row: Happening, now: datetime) -> None:
    _check_day(row.orchard, row.tree, row.happened_on, "happened_on", now)
    if row.tree is None and row.what not in OF_WHOLE_ORCHARD:
        raise OnlyOfATree(
            _("That happens to one tree. Note it on the tree's own page."), field="what"
        )
    if row.what == Happening.What.OTHER and not row.note:
        raise SaysNothing(_("Say in a few words what happened."), field="note")


def _check_stage(row: StageNote, now: datetime) -> None:
    _check_day(row.orchard, row.tree, row.seen_on, "seen_on", now)
    if row.bbch not in guide.load().stages:
        raise NoSuchStage(
            _("%(code)s is no growth stage of the guide. Choose one from the list.")
            % {"code": row.bbch},
            field="bbch",
        )
    if row.tree is None and not row.group:
        raise NoSuchStage(_("Say which trees show this stage."), field="group")


def _check_day(
    orchard: Orchard, tree: Tree | None, on: date, field: str, now: datetime
) -> None:
    if on > now.astimezone(ZoneInfo(orchard.time_zone)).date():
        raise WrongDay(
            _("That day is still to come. Give the day it was."), field=field
        )
    if tree is None:
        return
    told = {"code": tree.code}
    if tree.planted_on and on < tree.planted_on:
        told["day"] = date_format(tree.planted_on, "j M Y")
        raise WrongDay(
            _("%(code)s was only planted on %(day)s. Give a later day.") % told,
            field=field,
        )
    if tree.removed_on and on > tree.removed_on:
        told["day"] = date_format(tree.removed_on, "j M Y")
        raise WrongDay(
            _("%(code)s was removed on %(day)s. Give an earlier day.") % told,
            field=field,
        )


def _hold(model: type[Noted], row: Noted, by: User) -> Noted:
    held: Noted = (
        model.objects.select_for_update(of=("self",))
        .select_related("orchard", "tree")
        .get(pk=row.pk)
    )
    if not held.is_current:
        raise NotCurrent(
            _("This note no longer stands: it was corrected or withdrawn before.")
        )
    member = access.member_for(by, held.orchard.slug)
    if held.by_id != by.pk and not access.may(member, Deed.CORRECT_OTHERS):
        raise NotYours(
            _("Somebody else noted this. A crew lead or the coordinator may change it.")
        )
    return held


def _kept(verb: str, row: Noted, *, by: User, now: datetime) -> Noted:
    row.full_clean()
    row.save()
    ledger.write(
        verb,
        row,
        by=by,
        now=now,
        orchard=row.orchard,
        tree=row.tree,
        after=ledger.snapshot(row),
    )
    return row


def _put_in_place(
    verb: str, old: Noted, row: Noted, *, by: User, now: datetime, reason: str
) -> Noted:
    reason = _said(reason)
    old.superseded_at = now
    old.save(update_fields=["superseded_at"])
    row.corrects, row.correction_reason = old, reason
    row.full_clean()
    row.save()
    ledger.write(
        verb,
        row,
        by=by,
        now=now,
        orchard=row.orchard,
        tree=row.tree,
        before=ledger.snapshot(old),
        after=ledger.snapshot(row),
        reason=reason,
    )
    return row


def _withdrawn(
    verb: str, model: type[Noted], row: Noted, by: User, now: datetime, reason: str
) -> Noted:
    with transaction.atomic():
        held = _hold(model, row, by)
        before = ledger.snapshot(held)
        held.withdrawn_at, held.withdrawn_by = now, by
        held.withdrawn_reason = _said(reason)
        held.full_clean()
        held.save()
        ledger.write(
            verb,
            held,
            by=by,
            now=now,
            orchard=held.orchard,
            tree=held.tree,
            before=before,
            after=ledger.snapshot(held),
            reason=held.withdrawn_reason,
        )
        return held


def _said(reason: str) -> str:
    if not reason.strip():
        raise SaysNothing(
            _("Say why, so that others can follow the change."), field="reason"
        )
    return reason.strip()
