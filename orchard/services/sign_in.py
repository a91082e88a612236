"""Signing in: an e-mail address and a password, tried a few times and no more."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache

from django.contrib.auth.hashers import check_password, make_password
from django.utils.translation import gettext as _

from orchard.records.models import User
from orchard.services import throttle
from orchard.services.refusal import Refused


class NotKnown(Refused):
    """The address and the password do not belong together."""


def sign_in(email: str, password: str, *, address: str | None, now: datetime) -> User:
    """Return who signs in; the same answer, as slow, whether or not they exist.

    Raises:
        NotKnown: address and password do not belong together.
        throttle.TooOften: it was tried too often; says when to try again.
    """
    throttle.record("sign-in", email, address=address, now=now)
    user = User.objects.filter(email=email.strip().lower(), is_active=True).first()
    if user is None:
        check_password(password, _nobodys_password())
    elif user.check_password(password):
        throttle.clear("sign-in", email)
        return user
    raise NotKnown(_("E-mail address and password do not belong together. Check both."))


@lru_cache(maxsize=1)
def _nobodys_password() -> str:
    return make_password("nobody")
