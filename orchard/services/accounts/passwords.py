"""Passwords: set, change, and the link that lets a person set a new one."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.tokens import default_token_generator
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orchard.records.models import Membership, User
from orchard.services import audit
from orchard.services.accounts import rate_limit
from orchard.services.audit import Verb
from orchard.services.errors import Refused

Role = Membership.Role
LINK_OVER = gettext_lazy(
    "This link was used already or is older than a day. Ask for another."
)


def check_password_is_good(
    password: str, user: User, *, field: str = "password"
) -> None:
    """Refuse a password that is short, common or like the person's own name."""
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise Refused(
            " ".join(error.messages), code="weak_password", field=field
        ) from None


def link_parts(user: User) -> tuple[str, str]:
    """Return uid and token of a link that sets a new password, once, for a day."""
    uid = urlsafe_base64_encode(force_bytes(user.pk))
    return uid, default_token_generator.make_token(user)


def make_link(member: Membership, *, by: User, now: datetime) -> tuple[str, str]:
    """Make the link that sets a member a new password, for a coordinator to hand over.

    Raises:
        Refused (not_only_ours): the account opens more than the orchards `by` runs.
    """
    runs = Membership.objects.standing().filter(user=by, role=Role.COORDINATOR)
    elsewhere = (
        Membership.objects.standing()
        .filter(user=member.user)
        .exclude(orchard__in=runs.values("orchard"))
    )
    if member.user.is_staff or member.user.is_superuser or elsewhere.exists():
        raise Refused(
            _(
                "This account also opens orchards that you don't run. Ask the person "
                "who runs the server for a link."
            ),
            code="not_only_ours",
        )
    audit.write(Verb.MAKE_LINK, member.user, by=by, now=now, orchard=member.orchard)
    return link_parts(member.user)


def request_link(email: str, *, address: str | None, now: datetime) -> User | None:
    """Return the person to send a link to, or None when nobody is meant.

    Raises:
        throttle.too_often: links were asked for too often.
    """
    # A mailbox takes a few mails, wherever they are asked for.
    rate_limit.record("link", email, address=address, now=now, from_anywhere=True)
    return User.objects.filter(email=email.strip().lower(), is_active=True).first()


def set_password_by_link(
    user: User, token: str, *, password: str, now: datetime
) -> User:
    """Set a new password by the token of a link; all sessions of the person end.

    Raises:
        Refused (link_over): the link was used, is older than a day or was never made.
        Refused (weak_password): the password is too easily guessed.
    """
    with transaction.atomic():
        # Asked under the lock: two people with one link, one wins.
        row = User.objects.select_for_update(no_key=True).get(pk=user.pk)
        if not row.is_active or not default_token_generator.check_token(row, token):
            raise Refused(str(LINK_OVER), code="link_over")
        _set(row, password, verb=Verb.SET_PASSWORD, now=now)
    rate_limit.clear("sign-in", row.email)
    return row


def set_first_password(user: User, *, password: str, now: datetime) -> None:
    """Give a person who has no password one.

    Raises:
        weak_password.
    """
    if user.has_usable_password():
        raise ValueError(f"{user} has a password; change it with the old one")
    with transaction.atomic():
        _set(user, password, verb=Verb.SET_PASSWORD, now=now)


def change_password(user: User, *, old: str, password: str, now: datetime) -> User:
    """Change a person's password; their other sessions end.

    Raises:
        Refused (wrong_password), weak_password.
        throttle.too_often: the old password was guessed at too often.
    """
    # Counted by itself: who guesses at the door must not keep the person from changing
    # what is guessed at.
    attempt = rate_limit.record("old-password", user.email, address=None, now=now)
    if not user.check_password(old):
        raise Refused(
            _("The old password is wrong."), code="wrong_password", field="old"
        )
    rate_limit.withdraw(attempt)
    with transaction.atomic():
        row = User.objects.select_for_update(no_key=True).get(pk=user.pk)
        _set(row, password, verb=Verb.CHANGE_PASSWORD, now=now)
    return row


def _set(user: User, password: str, *, verb: Verb, now: datetime) -> None:
    check_password_is_good(password, user)
    user.set_password(password)
    user.save(update_fields=["password"])
    audit.write(verb, user, by=user, now=now, orchard=None)
