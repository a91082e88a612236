"""What may be shown beyond the orchard, and what is still missing for it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from django.utils.translation import gettext as _

from orchard.records.models import AS_WIDE_AS, Membership, Photo, PhotoConsent
from orchard.services import permissions
from orchard.services.permissions import Deed


def is_free(photo: Photo, use: str) -> bool:
    """Tell whether a photo may go to a use at this moment."""
    return Photo.objects.filter(pk=photo.pk).free_to_show(use).exists()


def lacking(photo: Photo, use: str, member: Membership) -> list[str]:
    """Say what a photo still needs for a use, in sentences; nothing when it is ready.

    Without caption, credit or description it may go (`is_free`), but is not ready.
    """
    return lacking_in([photo], use, member)[photo.pk]


def lacking_in(
    photos: Iterable[Photo], use: str, member: Membership
) -> dict[int, list[str]]:
    """Say what each of several photos still needs for a use, by its number."""
    photos = list(photos)
    why = why_not_free(photos, use, member)
    return {photo.pk: [*why[photo.pk], *_not_described(photo)] for photo in photos}


def why_not_free(
    photos: Iterable[Photo], use: str, member: Membership
) -> dict[int, list[str]]:
    """Say why each of several photos may not go to a use; nothing where it may.

    As far as a member may know it. In two queries.
    """
    photos = list(photos)
    numbers = [photo.pk for photo in photos]
    given: dict[int, list[PhotoConsent]] = defaultdict(list)
    for row in PhotoConsent.objects.filter(photo__in=numbers).order_by("person", "pk"):
        given[row.photo_id].append(row)
    suspected = set(
        Photo.objects.filter(pk__in=numbers)
        .under_open_case()
        .values_list("pk", flat=True)
    )
    named = permissions.may(member, Deed.KEEP_PHOTOS)
    return {
        photo.pk: [
            *_barred(photo, under_open_case=photo.pk in suspected),
            *_not_let_go(photo, use),
            *dict.fromkeys(_not_agreed(photo, use, given[photo.pk], named=named)),
        ]
        if permissions.sees(member, photo)
        # Why is no business of the others.
        else [_("It may not be shown at present.")]
        for photo in photos
    }


def _barred(photo: Photo, *, under_open_case: bool) -> Iterable[str]:
    if not photo.is_current:
        yield _("It was removed.")
    if photo.private:
        yield _("It belongs to a suspected regulated pest and never leaves.")
    elif under_open_case:
        yield _("It stays inside as long as its tree is to be left alone.")


def _not_let_go(photo: Photo, use: str) -> Iterable[str]:
    if photo.audience not in AS_WIDE_AS[use]:
        if use == PhotoConsent.Use.TALKS:
            yield _("Let it be seen in talks and slides.")
        else:
            yield _("Let it be seen by everybody.")


def _not_agreed(
    photo: Photo, use: str, consents: Sequence[PhotoConsent], *, named: bool
) -> Iterable[str]:
    if photo.people == Photo.People.NOBODY:
        return
    if photo.people == Photo.People.UNKNOWN:
        yield _("Say whether people are in view.")
        return
    if not consents:
        yield _("Note the consent of the people in view.")
    standing: dict[str, set[str]] = {row.person: set() for row in consents}
    for row in consents:
        if row.withdrawn_at is None:
            standing[row.person].add(row.use)
    for name, uses in standing.items():
        if uses.intersection(AS_WIDE_AS[use]):
            continue
        if uses:
            text = _("%(name)s agreed to talks and slides only.")
        else:
            text = _("%(name)s withdrew the consent.")
        yield text % {"name": name if named else _("Somebody in view")}


def _not_described(photo: Photo) -> Iterable[str]:
    if not photo.caption:
        yield _("Write a caption.")
    if not photo.credit:
        yield _("Enter the credit: who is named with it.")
    if not photo.alt_text:
        yield _("Write the description for people who can't see it.")
