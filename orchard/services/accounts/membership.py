"""People: who belongs to an orchard, in which role, until when."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import OuterRef, Q, Subquery
from django.utils.translation import gettext as _

from orchard.records.models import Change, Membership, Orchard, Task, User
from orchard.services import audit
from orchard.services.accounts.invitations import (
    accept_invitation,
    invite,
    open_invitations,
    read_invitation,
    withdraw_invitation,
)
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.permissions import Deed, may

__all__ = [
    "Fellow",
    "accept_invitation",
    "change_role",
    "check_phone",
    "correct_own_details",
    "enrol",
    "invite",
    "leave",
    "members",
    "open_invitations",
    "read_invitation",
    "user_by_email",
    "withdraw_invitation",
]

Role = Membership.Role
# Three to twenty digits, parted as people part them.
PHONE = re.compile(r"[+(]?[0-9](?:[ ()./-]*[0-9]){2,19}")
LONGEST_PHONE = 40


@dataclass(frozen=True, slots=True)
class Fellow:
    """A member as the list of people shows one."""

    number: int
    user: User
    role: str
    role_word: str
    joined_at: datetime
    worked_at: datetime | None


def members(orchard: Orchard) -> list[Fellow]:
    """Return who belongs to an orchard, by name, with the moment of their last work."""
    last_line = (
        Change.objects.filter(orchard=orchard, by=OuterRef("user_id"))
        .order_by("-id")
        .values("at")[:1]
    )
    rows = (
        Membership.objects.standing()
        .in_orchard(orchard)
        .select_related("user")
        .annotate(worked_at=Subquery(last_line))
        .order_by("user__name", "id")
    )
    return [
        Fellow(
            number=row.pk,
            user=row.user,
            role=row.role,
            role_word=str(Role(row.role).label),
            joined_at=row.joined_at,
            worked_at=row.worked_at,  # type: ignore[attr-defined]
        )
        for row in rows
    ]


def user_by_email(email: str) -> User | None:
    """Return whose account an e-mail address is, left or not, or None."""
    return User.objects.filter(email=email.strip().lower()).first()


def change_role(
    member: Membership, *, role: str, by: User, now: datetime
) -> Membership:
    """Give a member another role, and give back what it may not do any more.

    Raises:
        Refused (last_coordinator): nobody else would be coordinator.
        Refused (not_a_member): the person has left.
    """
    with transaction.atomic():
        row = _locked(member)
        if row.role == role:
            return row
        _another_coordinator_stands(row)
        before = audit.snapshot(row, "role")
        row.role = role
        audit.save(
            Verb.CHANGE_ROLE, row, by=by, now=now, fields=("role",), before=before
        )
        _give_back_what_is_too_much(row, by=by, now=now)
    return row


def _give_back_what_is_too_much(member: Membership, *, by: User, now: datetime) -> None:
    """Give back what the new role may not do, or may not even see."""
    if not may(member, Deed.WORK):
        tasks = Q()
    elif not may(member, Deed.SEE_PRIVATE):
        tasks = Q(private=True)
    else:
        return
    reason = _("The role of %(name)s changed") % {"name": member.user.name}
    _give_back(member, tasks, by=by, now=now, reason=reason)


def leave(member: Membership, *, by: User, now: datetime) -> int:
    """End a membership; give back what the person had taken, and count it.

    Nothing the person recorded changes. From this moment the orchard is not there
    for them.

    Raises:
        Refused (last_coordinator): nobody else is coordinator.
        Refused (not_a_member): the person has left already.
    """
    with transaction.atomic():
        row = _locked(member)
        _another_coordinator_stands(row)
        before = audit.snapshot(row, "role", "left_at")
        row.left_at = now
        audit.save(
            Verb.LEAVE, row, by=by, now=now, fields=("role", "left_at"), before=before
        )
        reason = _("%(name)s left the orchard") % {"name": row.user.name}
        return _give_back(row, Q(), by=by, now=now, reason=reason)


def _give_back(
    member: Membership, tasks: Q, *, by: User, now: datetime, reason: str
) -> int:
    taken = (
        Task.objects.filter(
            tasks, orchard=member.orchard, closed_at=None, taken_by=member.user
        )
        .select_for_update(of=("self",), no_key=True)
        .select_related("tree", "orchard")
        .order_by("id")
    )
    count = 0
    for task in taken:
        task.taken_by = None
        audit.save(
            Verb.GIVE_BACK,
            task,
            by=by,
            now=now,
            fields=["taken_by"],
            before={"taken_by": member.user.name},
            after={"taken_by": None},
            reason=reason,
            is_checked=True,
        )
        count += 1
    return count


def enrol(*, email: str, name: str, now: datetime) -> User:
    """Enter a person who sets a password later, by link; return who is there already.

    Raises:
        Refused (name_missing), bad_address.
    """
    email = email.strip().lower()
    person = User.objects.filter(email=email).first()
    if person is not None:
        return person
    user = User(email=email, name=_readable(name), joined_at=now)
    user.set_unusable_password()
    try:
        user.full_clean()
    except ValidationError:
        message = _("Enter the whole e-mail address, like name@example.org.")
        raise Refused(message, code="bad_address", field="email") from None
    return audit.save(
        Verb.ENROL, user, by=None, now=now, fields=("email", "name"), is_checked=True
    )


def correct_own_details(user: User, *, name: str, phone: str, now: datetime) -> User:
    """Write a person's name and number anew; the ledger keeps the name of its day.

    Raises:
        Refused (name_missing), bad_phone.
    """
    values = {"name": _readable(name), "phone": " ".join(phone.split())}
    check_phone(values["phone"], code="bad_phone", field="phone")
    with transaction.atomic():
        row = User.objects.select_for_update(no_key=True).get(pk=user.pk)
        changed = [key for key in values if getattr(row, key) != values[key]]
        if not changed:
            return row
        before = audit.snapshot(row, *changed)
        for key in changed:
            setattr(row, key, values[key])
        verb = Verb.RENAME if "name" in changed else Verb.CORRECT_DETAILS
        audit.save(verb, row, by=row, now=now, fields=changed, before=before)
    return row


def check_phone(number: str, *, code: str, field: str) -> None:
    """Refuse a number that cannot be dialled; none at all is no fault."""
    if number and not (PHONE.fullmatch(number) and len(number) <= LONGEST_PHONE):
        message = _("“%(number)s” isn't a phone number. Write it like +351 210 000.")
        raise Refused(message % {"number": number}, code=code, field=field)


def _readable(name: str) -> str:
    name = " ".join(name.split())
    if not name:
        raise Refused(
            _("Enter the name that others know you by."),
            code="name_missing",
            field="name",
        )
    if len(name) > 120:
        raise Refused(
            _("Write a name of at most 120 letters."), code="name_missing", field="name"
        )
    return name


def _locked(member: Membership) -> Membership:
    # All changes of one orchard's people wait for each other here, so that two
    # coordinators cannot step down at the same moment.
    Orchard.objects.select_for_update(no_key=True).get(pk=member.orchard_id)
    row = Membership.objects.select_related("user", "orchard").get(pk=member.pk)
    if row.left_at is not None:
        message = _("%(name)s has already left this orchard.")
        raise Refused(message % {"name": row.user.name}, code="not_a_member")
    return row


def _another_coordinator_stands(member: Membership) -> None:
    if member.role != Role.COORDINATOR:
        return
    others = (
        Membership.objects.standing()
        .in_orchard(member.orchard)
        .filter(role=Role.COORDINATOR)
        .exclude(pk=member.pk)
    )
    if not others.exists():
        message = _(
            "%(name)s is the only coordinator of %(orchard)s. Make somebody else "
            "coordinator first."
        )
        names = {"name": member.user.name, "orchard": member.orchard.name}
        raise Refused(message % names, code="last_coordinator", field="role")
