"""The throttle: a few tries in a quarter of an hour, then a wait.

Tries count for a person and the place they come from, so that whoever guesses elsewhere
does not lock the person out; and for a place, whomever it tries to be.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from ipaddress import ip_address

from django.db.models import Q, QuerySet
from django.utils.crypto import salted_hmac
from django.utils.translation import ngettext

from orchard.records.models import SignInTry
from orchard.services.errors import Refused

SPAN = timedelta(minutes=15)
MOST_PER_PERSON = 5
MOST_PER_ADDRESS = 30


def record(
    purpose: str,
    email: str,
    *,
    address: str | None,
    now: datetime,
    from_anywhere: bool = False,
) -> SignInTry:
    """Write down a try before its outcome is known.

    With `from_anywhere` the tries of a person count together, wherever they come from.

    The row is written first and counted after, so that tries made at the same moment
    in several processes all count. A refused try is taken back: knocking on a closed
    door does not keep it closed.

    Raises:
        Refused (too_often): the person, or the network address, has used up the tries.
    """
    since = now - SPAN
    SignInTry.objects.filter(tried_at__lte=since).delete()
    attempt = SignInTry.objects.create(
        email_hash=_hash(purpose, email), address=_plain(address), tried_at=now
    )
    person = Q(email_hash=attempt.email_hash)
    if not from_anywhere:
        person &= Q(address=attempt.address)
    waits = [_wait_until(person, MOST_PER_PERSON, attempt)]
    if attempt.address:
        waits.append(_wait_until(Q(address=attempt.address), MOST_PER_ADDRESS, attempt))
    again_at = max((wait for wait in waits if wait), default=None)
    if again_at is not None:
        attempt.delete()
        minutes = max(1, -int((now - again_at).total_seconds() // 60))
        raise Refused(
            ngettext(
                "Too many tries. Wait %(count)d minute, then try again.",
                "Too many tries. Wait %(count)d minutes, then try again.",
                minutes,
            )
            % {"count": minutes},
            code="too_often",
        )
    return attempt


def _wait_until(whose: Q, most: int, attempt: SignInTry) -> datetime | None:
    """Return when the next try is open, or None when it is open now."""
    earlier = (
        SignInTry.objects.filter(whose, tried_at__gt=attempt.tried_at - SPAN)
        .exclude(pk=attempt.pk)
        .order_by("-tried_at", "-id")
        .values_list("tried_at", flat=True)[:most]
    )
    moments = list(earlier)
    return moments[-1] + SPAN if len(moments) == most else None


def withdraw(attempt: SignInTry) -> None:
    """Take back a try that turned out right."""
    SignInTry.objects.filter(pk=attempt.pk).delete()


def clear(purpose: str, email: str) -> None:
    """Forget a person's tries, because they have shown who they are."""
    _tries_of(purpose, email).delete()


def clear_from(purpose: str, email: str, *, address: str | None) -> None:
    """Forget a person's tries from one place; those from elsewhere may be another's."""
    _tries_of(purpose, email).filter(address=_plain(address)).delete()


def _tries_of(purpose: str, email: str) -> QuerySet[SignInTry]:
    return SignInTry.objects.filter(email_hash=_hash(purpose, email))


def _hash(purpose: str, email: str) -> str:
    # Keyed: whoever reads this table learns no addresses from it.
    key = f"{purpose}:{email.strip().lower()}"
    return salted_hmac("orchard.throttle", key, algorithm="sha256").hexdigest()


def _plain(address: str | None) -> str | None:
    try:
        return str(ip_address((address or "").strip()))
    except ValueError:
        return None
