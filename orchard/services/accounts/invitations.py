"""Invitations: a link that makes its reader a member, once, for a week."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Invitation, Membership, Orchard, User
from orchard.services import audit
from orchard.services.accounts.passwords import check_password_is_good
from orchard.services.audit import Verb
from orchard.services.errors import Refused

DAYS_VALID = 7
SHOWN = ("email", "role", "expires_at")


@dataclass(frozen=True, slots=True)
class Invited:
    """A fresh invitation with its token, which is kept nowhere else."""

    invitation: Invitation
    token: str


def invite(
    orchard: Orchard, *, email: str, role: str, by: User, now: datetime
) -> Invited:
    """Open an invitation for an e-mail address; the token is told this once.

    Somebody who left may be invited again.

    Raises:
        Refused (bad_address), already_member, already_invited, account_closed.
    """
    email = email.strip().lower()
    try:
        validate_email(email)
    except ValidationError:
        message = _("Enter the whole e-mail address, like name@example.org.")
        raise Refused(message, code="bad_address", field="email") from None
    _refuse_closed_account(email)
    token = secrets.token_urlsafe(32)
    with transaction.atomic():
        Orchard.objects.select_for_update(no_key=True).get(pk=orchard.pk)
        standing = (
            Membership.objects.standing().in_orchard(orchard).filter(user__email=email)
        )
        member = standing.select_related("user").first()
        if member is not None:
            message = _(
                "%(name)s is already a member. Change the role on the people page."
            )
            raise Refused(
                message % {"name": member.user.name},
                code="already_member",
                field="email",
            )
        if open_invitations(orchard, now=now).filter(email=email).exists():
            message = _(
                "An invitation to %(email)s is still open. Withdraw it first if the "
                "link is lost."
            )
            raise Refused(
                message % {"email": email}, code="already_invited", field="email"
            )
        invitation = Invitation(
            orchard=orchard,
            email=email,
            role=role,
            token_hash=_hash(token),
            invited_by=by,
            invited_at=now,
            expires_at=now + timedelta(days=DAYS_VALID),
        )
        audit.save(Verb.INVITE, invitation, by=by, now=now, fields=SHOWN)
    return Invited(invitation, token)


def open_invitations(orchard: Orchard, *, now: datetime):  # type: ignore[no-untyped-def]
    """Return the invitations that can still be accepted, newest first."""
    return (
        Invitation.objects.filter(
            orchard=orchard, accepted_at=None, withdrawn_at=None, expires_at__gt=now
        )
        .select_related("invited_by")
        .order_by("-id")
    )


def withdraw_invitation(invitation: Invitation, *, by: User, now: datetime) -> None:
    """Make an invitation's link void.

    Raises:
        Refused (no_invitation): it was accepted, withdrawn or has run out already.
    """
    with transaction.atomic():
        row = _locked(invitation)
        _refuse_when_over(row, now)
        before = audit.snapshot(row, "email", "withdrawn_at")
        row.withdrawn_at = now
        audit.save(
            Verb.WITHDRAW_INVITATION,
            row,
            by=by,
            now=now,
            fields=["withdrawn_at"],
            before=before,
            after=audit.snapshot(row, "email", "withdrawn_at"),
            is_checked=True,
        )


def read_invitation(token: str, *, now: datetime) -> Invitation | None:
    """Return the invitation of a link, or None when there never was one.

    Raises:
        Refused (no_invitation): it is used, withdrawn or has run out; the message says
            which.
        Refused (account_closed): the person could not sign in to accept it.
    """
    invitation = (
        Invitation.objects.select_related("orchard", "invited_by")
        .filter(token_hash=_hash(token))
        .first()
    )
    if invitation is not None:
        _refuse_when_over(invitation, now)
        _refuse_closed_account(invitation.email)
    return invitation


def accept_invitation(
    invitation: Invitation,
    *,
    now: datetime,
    user: User | None = None,
    name: str = "",
    password: str = "",
) -> Membership:
    """Make the invited person a member, known (`user`) or new (`name`, `password`).

    Raises:
        Refused (no_invitation): it was used, withdrawn or ran out meanwhile.
        Refused (account_closed): the person's account was closed meanwhile.
        Refused (other_person): `user` has another address than the one invited.
        Refused (must_sign_in): a new person was given, but the address is known.
        Refused (weak_password): the password is too easily guessed.
    """
    with transaction.atomic():
        row = _locked(invitation)
        _refuse_when_over(row, now)
        _refuse_closed_account(row.email)
        person = _person(row, user, name, password, now)
        member = _join(row, person, now)
        row.accepted_at = now
        row.accepted_by = person
        row.save(update_fields=["accepted_at", "accepted_by"])
    return member


def _person(
    row: Invitation, user: User | None, name: str, password: str, now: datetime
) -> User:
    if user is not None:
        if user.email != row.email:
            message = _(
                "This invitation is for %(email)s, and you are signed in as "
                "%(other)s. Sign out and open the link again."
            )
            raise Refused(
                message % {"email": row.email, "other": user.email}, code="other_person"
            )
        return user
    if User.objects.filter(email=row.email).exists():
        message = _("%(email)s is known here. Sign in to accept.")
        raise Refused(message % {"email": row.email}, code="must_sign_in")
    if not name.strip():
        message = _("Enter the name that others know you by.")
        raise Refused(message, code="name_missing", field="name")
    person = User(email=row.email, name=name.strip()[:120], joined_at=now)
    check_password_is_good(password, person)
    person.set_password(password)
    return audit.save(Verb.ENROL, person, by=person, now=now, fields=("email", "name"))


def _join(row: Invitation, person: User, now: datetime) -> Membership:
    member = Membership.objects.filter(user=person, orchard=row.orchard).first()
    before = None
    if member is None:
        member = Membership(user=person, orchard=row.orchard)
    elif member.left_at is None:
        message = _("You are already a member of %(orchard)s.")
        raise Refused(message % {"orchard": row.orchard.name}, code="already_member")
    else:
        before = audit.snapshot(member, "role", "left_at")
    member.role, member.joined_at, member.left_at = row.role, now, None
    return audit.save(
        Verb.JOIN,
        member,
        by=person,
        now=now,
        before=before,
        after=audit.snapshot(member, "role", "left_at"),
    )


def _locked(invitation: Invitation) -> Invitation:
    Orchard.objects.select_for_update(no_key=True).get(pk=invitation.orchard_id)
    return Invitation.objects.select_related("orchard", "invited_by").get(
        pk=invitation.pk
    )


def _refuse_when_over(invitation: Invitation, now: datetime) -> None:
    names = {
        "orchard": invitation.orchard.name,
        "name": invitation.invited_by.name,
    }
    if invitation.accepted_at is not None:
        message = _("This invitation to %(orchard)s has been used. Sign in instead.")
        raise Refused(message % names, code="no_invitation")
    if invitation.withdrawn_at is not None:
        message = _(
            "This invitation to %(orchard)s was withdrawn. Ask %(name)s for one."
        )
        raise Refused(message % names, code="no_invitation")
    if invitation.expires_at <= now:
        message = _(
            "This invitation to %(orchard)s has expired. Ask %(name)s for another."
        )
        raise Refused(message % names, code="no_invitation")


def _refuse_closed_account(email: str) -> None:
    closed = User.objects.filter(email=email, is_active=False).first()
    if closed is not None:
        message = _(
            "The account of %(name)s (%(email)s) is closed. Ask the person who runs "
            "the server to reopen it, then invite again."
        )
        names = {"name": closed.name, "email": email}
        raise Refused(message % names, code="account_closed", field="email")


def _hash(token: str) -> str:
    return sha256(token.encode()).hexdigest()
