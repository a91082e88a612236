"""Notes that are corrected or withdrawn, never erased: what all of them share."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, TypeVar

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import (
    Crown,
    DryCheck,
    Happening,
    Harvest,
    HarvestShare,
    Horizon,
    Inspection,
    LeafTest,
    Product,
    RipenessTest,
    StageNote,
    Treatment,
    Tree,
    User,
    Watering,
    WetSpell,
)
from orchard.services import audit, permissions
from orchard.services.audit import Verb
from orchard.services.errors import Refused, require_reason
from orchard.services.partial_days import when_planted

Noted = TypeVar(
    "Noted",
    Crown, DryCheck, Happening, Harvest, HarvestShare, Horizon, LeafTest, Product,
    RipenessTest, StageNote, Treatment, Watering, WetSpell,
)  # fmt: skip

Versioned = TypeVar("Versioned", Inspection, Product, Treatment)


def lock_current(row: Noted, by: User) -> Noted:
    """Lock a note that stands, for who noted it and for those who lead.

    Raises:
        Refused (not_current), not_yours: as their names say.
    """
    locked: Noted = (
        type(row)
        .objects.select_for_update(of=("self",), no_key=True)
        .select_related("orchard")
        .get(pk=row.pk)
    )
    if not locked.is_current:
        raise Refused(_why_not_current(locked), code="not_current")
    member = permissions.member_for(by, locked.orchard.slug)
    permissions.require_own(member, locked)
    return locked


def latest_version(row: Versioned) -> Versioned:
    """Return the version that stands, for a record that was corrected since.

    One that was withdrawn is its own latest version.
    """
    rows = type(row)._default_manager.select_related("orchard")
    while row.superseded_at is not None:
        row = rows.get(corrects=row)
    return row


def _why_not_current(row: Noted) -> str:
    if row.superseded_at is None and row.withdrawn_at is None:
        # Of all notes, only a watering depends on something else than itself.
        return _(
            "The task these litres were recorded with is open again, so they no longer "
            "count. Close it with its litres, or record the watering again."
        )
    return _("This record was corrected or withdrawn already.")


def renewed(old: Noted, *, by: User, now: datetime, **changes: Any) -> Noted:
    """Return a copy of a note with changes in it, not yet kept."""
    row: Noted = type(old)()
    for field in old._meta.concrete_fields:
        if not field.primary_key:
            setattr(row, field.attname, getattr(old, field.attname))
    for name, value in changes.items():
        setattr(row, name, value)
    if isinstance(row, RipenessTest) and row.written_by is not None and row.by != by:
        # A test from paper stays its tester's.
        row.written_by = by
    else:
        row.by = by
        if isinstance(row, RipenessTest):
            row.written_by = None
    row.received_at = now
    return row


def put_in_place(
    verb: Verb, old: Noted, row: Noted, *, by: User, now: datetime, reason: str
) -> Noted:
    """Keep a newer note in place of one; the old one stays readable.

    Raises:
        Refused (reason_missing): no reason is given.
    """
    reason = require_reason(reason)
    old.superseded_at = now
    old.save(update_fields=["superseded_at"])
    row.corrects, row.correction_reason = old, reason
    before = audit.snapshot(old)
    return audit.save(verb, row, by=by, now=now, before=before, reason=reason)


def withdraw(row: Noted, *, by: User, now: datetime, reason: str) -> Noted:
    """Withdraw a note that was wrong altogether; it stays readable.

    Raises:
        Refused (reason_missing): no reason is given. not_current, not_yours as their
            names say.
    """
    reason = require_reason(reason)
    with transaction.atomic():
        locked = lock_current(row, by)
        before = audit.snapshot(locked)
        locked.withdrawn_at, locked.withdrawn_by, locked.withdrawn_reason = (
            now,
            by,
            reason,
        )
        return audit.save(
            Verb.WITHDRAW, locked, by=by, now=now, before=before, reason=reason
        )


def check_day(tree: Tree | None, on: date, *, field: str, today: date) -> None:
    """Refuse a day that has not come, or on which the tree was not here.

    Raises:
        Refused (wrong_day): as its name says.
    """
    if on > today:
        raise Refused(
            _("That day is in the future. Enter the day it happened."),
            code="wrong_day",
            field=field,
        )
    if tree is None:
        return
    values = {"code": tree.code}
    if tree.planted_on and on < tree.planted_on:
        values["when"] = when_planted(tree)
        raise Refused(
            _("%(code)s was only planted %(when)s. Give a later day.") % values,
            code="wrong_day",
            field=field,
        )
    if tree.removed_on and on > tree.removed_on:
        values["day"] = date_format(tree.removed_on, "j M Y")
        raise Refused(
            _("%(code)s was removed on %(day)s. Give an earlier day.") % values,
            code="wrong_day",
            field=field,
        )
