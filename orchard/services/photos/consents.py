"""Consents of people in view: noted, and taken back at once for every use."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import AS_WIDE_AS, Membership, Photo, PhotoConsent
from orchard.services import audit, permissions
from orchard.services.audit import Verb
from orchard.services.errors import Refused, require_reason
from orchard.services.permissions import Deed
from orchard.services.photos.keeping import check_ours, describe

WITHDRAWN = ("withdrawn_on", "withdrawn_by", "withdrawn_at", "withdrawn_reason")


@transaction.atomic
def note_consent(
    photo: Photo,
    *,
    member: Membership,
    now: datetime,
    person: str,
    use: str,
    given_on: date,
) -> PhotoConsent:
    """Note that somebody in view agrees to a use of a photo.

    From then on it is a photo with people in view. What stands already is returned.

    Raises:
        MayNot (may_not): the member does not keep the photos.
        Refused (photo_is_withdrawn): it is no longer in the book.
        Refused (person_missing), in_future: as their names say.
    """
    permissions.require(member, Deed.KEEP_PHOTOS)
    photo = Photo.objects.select_for_update(no_key=True).get(pk=photo.pk)
    check_ours(photo, member)
    name = " ".join(person.split())
    if not name:
        raise Refused(
            _("Enter the name of the person who agrees."),
            code="person_missing",
            field="person",
        )
    _check_day(given_on, photo, now, field="given_on")
    noted = PhotoConsent.objects.filter(photo=photo)
    # However it is typed this time, it is the person of before.
    name = next(
        (row.person for row in noted if row.person.casefold() == name.casefold()), name
    )
    standing = noted.standing().filter(person=name, use=use).first()
    if standing is not None:
        return standing
    if photo.people != Photo.People.SOMEBODY:
        describe(photo, member=member, now=now, people=Photo.People.SOMEBODY)
    return audit.save(
        Verb.NOTE,
        PhotoConsent(
            photo=photo,
            person=name,
            use=use,
            given_on=given_on,
            noted_by=member.user,
            noted_at=now,
        ),
        by=member.user,
        now=now,
        fields=("photo_id", "person", "use", "given_on"),
        tree=photo.tree,
        private=photo.private,
    )


@transaction.atomic
def withdraw_consent(
    consent: PhotoConsent,
    *,
    member: Membership,
    now: datetime,
    withdrawn_on: date,
    reason: str,
    everywhere: bool = False,
) -> tuple[PhotoConsent, ...]:
    """Take back what somebody agreed to; with it goes what reaches farther.

    Nothing is erased, and the photo is free for that use no more from this moment; with
    `everywhere` no photo of the orchard is that they agreed to by this name.

    Raises:
        MayNot (may_not): the member does not keep the photos.
        Refused (already_withdrawn), reason_missing, in_future, before_given: as their
            names say.
    """
    permissions.require(member, Deed.KEEP_PHOTOS)
    reason = require_reason(reason)
    rows = given_by(consent).filter(use__in=AS_WIDE_AS[consent.use])
    standing = list(
        (rows if everywhere else rows.filter(photo=consent.photo_id))
        .select_for_update(of=("self",), no_key=True)
        .select_related("photo__orchard")
        .order_by("pk")
    )
    if consent.pk not in {row.pk for row in standing}:
        raise Refused(
            _("This consent was withdrawn already."), code="already_withdrawn"
        )
    _check_day(withdrawn_on, standing[0].photo, now, field="withdrawn_on")
    for row in standing:
        if withdrawn_on < row.given_on and row.photo_id != consent.photo_id:
            # Another photo, agreed to later, that the word to withdraw came before.
            continue
        if withdrawn_on < row.given_on:
            raise Refused(
                _("That is before the consent was given. Enter the day it ended."),
                code="before_given",
                field="withdrawn_on",
            )
        before = audit.snapshot(row, *WITHDRAWN)
        row.withdrawn_on, row.withdrawn_by, row.withdrawn_at = (
            withdrawn_on,
            member.user,
            now,
        )
        row.withdrawn_reason = reason
        audit.save(
            Verb.WITHDRAW,
            row,
            by=member.user,
            now=now,
            fields=WITHDRAWN,
            before=before,
            reason=row.withdrawn_reason,
            tree=row.photo.tree,
            private=row.photo.private,
        )
    return tuple(standing)


def given_by(consent: PhotoConsent) -> QuerySet[PhotoConsent]:
    """Return what the same person agreed to in the orchard and did not take back."""
    return PhotoConsent.objects.standing().filter(
        photo__orchard=consent.photo.orchard_id, person=consent.person
    )


def consents_to(photo: Photo) -> list[PhotoConsent]:
    """Return all that was agreed to about a photo, what stands first."""
    rows = PhotoConsent.objects.filter(photo=photo)
    rows = rows.select_related("noted_by", "withdrawn_by").order_by("person", "pk")
    return sorted(rows, key=lambda row: row.withdrawn_at is not None)


def _check_day(day: date, photo: Photo, now: datetime, *, field: str) -> None:
    if day > day_in(now, photo.orchard.time_zone):
        raise Refused(
            _("That day is in the future. Enter the day it happened."),
            code="in_future",
            field=field,
        )
