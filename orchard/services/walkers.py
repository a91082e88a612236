"""Walkers: who has a round in hand. Taken, given back, handed over."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Membership, Orchard, Round, User
from orchard.services import access, ledger
from orchard.services.access import Deed
from orchard.services.refusal import Refused


class CannotWalk(Refused):
    """The person is no member who logs inspections here."""


class TakenByAnother(Refused):
    """Somebody else has the round, or it is closed."""


class NotYours(access.MayNot):
    """The round is another's; those who lead hand it out."""


class ItIsClosed(Refused):
    """The round has been closed."""


def who_may_walk(orchard: Orchard) -> list[Membership]:
    """List the members a round can be given to, by name."""
    members = Membership.objects.of(orchard).standing().select_related("user")
    return [
        member
        for member in members.order_by("user__name", "id")
        if access.may(member, Deed.INSPECT)
    ]


def check_walks(orchard: Orchard, to: User) -> None:
    """Refuse who logs no inspections here.

    Raises:
        CannotWalk: as its name says.
    """
    member = Membership.objects.of(orchard).standing().filter(user=to).first()
    if member is None or not access.may(member, Deed.INSPECT):
        raise CannotWalk(
            _("%(name)s cannot walk a round here. Choose somebody from the list.")
            % {"name": to.name},
            field="to",
        )


def hold(row: Round) -> Round:
    """Lock a round that must be open.

    Raises:
        ItIsClosed: it is not.
    """
    held = (
        Round.objects.select_for_update(of=("self",))
        .select_related("orchard", "taken_by")
        .get(pk=row.pk)
    )
    if held.closed_at is not None:
        raise ItIsClosed(
            _("This round is closed already. Make a new one, or undo that.")
        )
    return held


def written(
    verb: str, row: Round, before: Mapping[str, Any], *, by: User, now: datetime
) -> Round:
    """Write in the ledger what a round was before and is now, and return it."""
    after = {key: getattr(row, key) for key in before}
    ledger.write(
        verb, row, by=by, now=now, orchard=row.orchard, before=dict(before), after=after
    )
    return row


def take(row: Round, *, by: User, now: datetime) -> Round:
    """Take a round that nobody has; the second of two people gets a sentence.

    Raises:
        TakenByAnother: somebody has it. ItIsClosed: as its name says.
    """
    with transaction.atomic():
        held = hold(row)
        check_walks(held.orchard, by)
        if held.taken_by_id == by.pk:
            return held
        if held.taken_by is not None:
            raise TakenByAnother(
                _("%(name)s has this round already. Ask them, or choose another.")
                % {"name": held.taken_by.name}
            )
        return _given("take", held, to=by, by=by, now=now)


def give_back(row: Round, *, by: User, now: datetime) -> Round:
    """Give back a round one has taken, so that others can take it.

    Raises:
        NotYours: somebody else has it, or nobody. ItIsClosed: as its name says.
    """
    with transaction.atomic():
        held = hold(row)
        if held.taken_by_id != by.pk:
            raise NotYours(_("You do not have this round, so you cannot give it back."))
        return _given("give_back", held, to=None, by=by, now=now)


def hand_over(row: Round, *, to: User | None, by: User, now: datetime) -> Round:
    """Give a round to a member, or to nobody, whoever had it.

    Raises:
        CannotWalk: the person logs no inspections here. ItIsClosed: as its name says.
    """
    with transaction.atomic():
        held = hold(row)
        require_lead(held.orchard, by)
        if to is not None:
            check_walks(held.orchard, to)
        return _given("hand_over", held, to=to, by=by, now=now)


def _given(
    verb: str, held: Round, *, to: User | None, by: User, now: datetime
) -> Round:
    before = {"taken_by_id": held.taken_by_id}
    held.taken_by, held.taken_at = to, now if to else None
    held.save(update_fields=["taken_by", "taken_at"])
    return written(verb, held, before, by=by, now=now)


def require_lead(orchard: Orchard, by: User) -> None:
    """Refuse who does not hand out rounds here.

    Raises:
        MayNot, NotThere: the role is too small, or the person is no member.
    """
    access.require(access.member_for(by, orchard.slug), Deed.HAND_OUT)
