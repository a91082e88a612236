"""Signing in: an e-mail address and a password, tried a few times and no more."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache

from django.contrib.auth.hashers import check_password, make_password
from django.utils.translation import gettext as _

from orchard.records.models import User
from orchard.services.accounts import rate_limit
from orchard.services.errors import Refused


def sign_in(email: str, password: str, *, address: str | None, now: datetime) -> User:
    """Return who signs in; the same answer, as slow, whether or not they exist.

    Raises:
        Refused (wrong_sign_in): address and password do not belong together.
        throttle.too_often: it was tried too often; says when to try again.
    """
    rate_limit.record("sign-in", email, address=address, now=now)
    user = User.objects.filter(email=email.strip().lower(), is_active=True).first()
    if user is None:
        check_password(password, _nobodys_password())
    elif user.check_password(password):
        rate_limit.clear_from("sign-in", email, address=address)
        return user
    raise Refused(
        _("The e-mail address or the password is wrong. Check both."),
        code="wrong_sign_in",
    )


@lru_cache(maxsize=1)
def _nobodys_password() -> str:
    return make_password("nobody")
