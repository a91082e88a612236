"""Passwords: set, change, and the link that lets a person set a new one."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.tokens import default_token_generator
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.encoding import force_bytes, force_str
from django.utils.http import urlsafe_base64_decode, urlsafe_base64_encode
from django.utils.translation import gettext as _

from orchard.records.models import User
from orchard.services import audit
from orchard.services.accounts import rate_limit
from orchard.services.audit import Verb
from orchard.services.errors import Refused


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


def request_link(email: str, *, address: str | None, now: datetime) -> User | None:
    """Return the person to send a link to, or None when nobody is meant.

    Raises:
        throttle.too_often: links were asked for too often.
    """
    rate_limit.record("link", email, address=address, now=now)
    return User.objects.filter(email=email.strip().lower(), is_active=True).first()


def user_of_link(uid: str, token: str) -> User:
    """Return whose password a link sets.

    Raises:
        Refused (link_over): it was used, is older than a day or was never made here.
    """
    try:
        number = int(force_str(urlsafe_base64_decode(uid)))
        user = User.objects.filter(pk=number, is_active=True).first()
    except (ValueError, OverflowError):
        user = None
    if user is None or not default_token_generator.check_token(user, token):
        message = _(
            "This link was used already or is older than a day. Ask for another."
        )
        raise Refused(message, code="link_over")
    return user


def set_password_by_link(uid: str, token: str, *, password: str, now: datetime) -> User:
    """Set a new password by link; all sessions of the person end.

    Raises:
        Refused (link_over), weak_password.
    """
    with transaction.atomic():
        user = User.objects.select_for_update().get(pk=user_of_link(uid, token).pk)
        # Asked again under the lock: two people with one link, one wins.
        user_of_link(uid, token)
        _set(user, password, verb=Verb.SET_PASSWORD, now=now)
    rate_limit.clear("sign-in", user.email)
    return user


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
    attempt = rate_limit.record("sign-in", user.email, address=None, now=now)
    if not user.check_password(old):
        raise Refused(
            _("The old password is not right."), code="wrong_password", field="old"
        )
    rate_limit.withdraw(attempt)
    with transaction.atomic():
        row = User.objects.select_for_update().get(pk=user.pk)
        _set(row, password, verb=Verb.CHANGE_PASSWORD, now=now)
    return row


def _set(user: User, password: str, *, verb: Verb, now: datetime) -> None:
    check_password_is_good(password, user)
    user.set_password(password)
    user.save(update_fields=["password"])
    audit.write(verb, user, by=user, now=now, orchard=None)
