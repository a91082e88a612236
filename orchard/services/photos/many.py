"""One deed on many photos: what is said of all of them, and who agrees to all."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Unpack

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Membership, Photo
from orchard.services import audit, permissions
from orchard.services.errors import Refused
from orchard.services.permissions import Deed
from orchard.services.photos.consents import note_consent
from orchard.services.photos.keeping import Description, describe

MOST_CHOSEN = 200


@transaction.atomic
def describe_many(
    photos: Iterable[Photo],
    *,
    member: Membership,
    now: datetime,
    **words: Unpack[Description],
) -> int:
    """Say the same of many photos, and count them; all or none.

    Raises:
        MayNot (may_not): the member does not keep the photos.
        Refused (no_photos): none is chosen.
        Refused (nothing_said): nothing is to be changed.
        Refused: as `describe` refuses the first that it cannot be said of.
    """
    permissions.require(member, Deed.KEEP_PHOTOS)
    chosen = _some(photos)
    if not words:
        raise Refused(
            _("Nothing is filled in. Fill in what all of them shall say."),
            code="nothing_said",
        )
    with audit.written_together():
        for photo in chosen:
            describe(photo, member=member, now=now, **words)
    return len(chosen)


@transaction.atomic
def note_consent_to_many(
    photos: Iterable[Photo],
    *,
    member: Membership,
    now: datetime,
    person: str,
    use: str,
    given_on: date,
) -> int:
    """Note that somebody agrees to a use of many photos, and count them; all or none.

    Raises:
        Refused (no_photos): none is chosen.
        Refused, MayNot: as `note_consent`.
    """
    chosen = _some(photos)
    with audit.written_together():
        for photo in chosen:
            note_consent(
                photo,
                member=member,
                now=now,
                person=person,
                use=use,
                given_on=given_on,
            )
    return len(chosen)


def _some(photos: Iterable[Photo]) -> list[Photo]:
    chosen = list(photos)
    if not chosen:
        raise Refused(
            _("No photo is chosen. Tick some in the library first."), code="no_photos"
        )
    return chosen
