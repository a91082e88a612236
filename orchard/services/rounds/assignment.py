"""Walkers: who has a round in hand. Taken, given back, handed over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Membership, Orchard, Round, User
from orchard.services import audit, permissions
from orchard.services.audit import Verb
from orchard.services.errors import MayNot, Refused
from orchard.services.permissions import Deed


def who_may_walk(orchard: Orchard) -> list[Membership]:
    """List the members a round can be given to, by name."""
    members = Membership.objects.in_orchard(orchard).standing().select_related("user")
    return [
        member
        for member in members.order_by("user__name", "id")
        if permissions.may(member, Deed.INSPECT)
    ]


def check_walks(orchard: Orchard, to: User) -> None:
    """Refuse who logs no inspections here.

    Raises:
        Refused (cannot_walk): as its name says.
    """
    member = Membership.objects.in_orchard(orchard).standing().filter(user=to).first()
    if member is None or not permissions.may(member, Deed.INSPECT):
        raise Refused(
            _("%(name)s can't walk a round here. Choose somebody from the list.")
            % {"name": to.name},
            code="cannot_walk",
            field="to",
        )


def lock_open(row: Round) -> Round:
    """Lock a round that must be open.

    Raises:
        Refused (already_closed): it is not.
    """
    locked = (
        Round.objects.select_for_update(of=("self",), no_key=True)
        .select_related("orchard", "taken_by")
        .get(pk=row.pk)
    )
    if locked.closed_at is not None:
        raise Refused(
            _("This round is closed already. Open it again, or make a new one."),
            code="already_closed",
        )
    return locked


def saved(
    verb: Verb,
    row: Round,
    before: Mapping[str, Any],
    *,
    fields: Iterable[str],
    by: User,
    now: datetime,
) -> Round:
    """Save fields of a round, with what it was before and is now; return it."""
    return audit.save(
        verb,
        row,
        by=by,
        now=now,
        fields=fields,
        before=dict(before),
        after=audit.snapshot(row, *before),
        is_checked=True,
    )


def take_round(row: Round, *, by: User, now: datetime) -> Round:
    """Take a round that nobody has; the second of two people gets a sentence.

    Raises:
        Refused (taken_by_another): somebody has it. already_closed: as its name says.
    """
    with transaction.atomic():
        locked = lock_open(row)
        check_walks(locked.orchard, by)
        if locked.taken_by_id == by.pk:
            return locked
        if locked.taken_by is not None:
            raise Refused(
                _("%(name)s has this round already. Ask them, or choose another.")
                % {"name": locked.taken_by.name},
                code="taken_by_another",
            )
        return _given(Verb.TAKE, locked, to=by, by=by, now=now)


def give_back_round(row: Round, *, by: User, now: datetime) -> Round:
    """Give back a round one has taken, so that others can take it.

    Raises:
        MayNot (not_yours): somebody else has it, or nobody. already_closed: as its name
            says.
    """
    with transaction.atomic():
        locked = lock_open(row)
        if locked.taken_by_id != by.pk:
            raise MayNot(
                _("You don't have this round, so you can't give it back."),
                code="not_yours",
            )
        return _given(Verb.GIVE_BACK, locked, to=None, by=by, now=now)


def hand_over_round(row: Round, *, to: User | None, by: User, now: datetime) -> Round:
    """Give a round to a member, or to nobody, whoever had it.

    Raises:
        Refused (cannot_walk): the person logs no inspections here. already_closed: as
            its name says.
    """
    with transaction.atomic():
        locked = lock_open(row)
        require_lead(locked.orchard, by)
        if to is not None:
            check_walks(locked.orchard, to)
        return _given(Verb.HAND_OVER, locked, to=to, by=by, now=now)


def _given(
    verb: Verb, locked: Round, *, to: User | None, by: User, now: datetime
) -> Round:
    before = audit.snapshot(locked, "taken_by_id")
    locked.taken_by, locked.taken_at = to, now if to else None
    fields = ["taken_by", "taken_at"]
    return saved(verb, locked, before, fields=fields, by=by, now=now)


def require_lead(orchard: Orchard, by: User) -> None:
    """Refuse who does not hand out rounds here.

    Raises:
        MayNot, NotThere: the role is too small, or the person is no member.
    """
    permissions.require(permissions.member_for(by, orchard.slug), Deed.HAND_OUT)
