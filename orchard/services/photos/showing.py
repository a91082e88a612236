"""What may be shown beyond the orchard, and what is still missing for it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from orchard.records.models import AS_WIDE_AS, Membership, Photo, PhotoConsent
from orchard.services import permissions
from orchard.services.permissions import Deed


def is_free(photo: Photo, use: str) -> bool:
    """Tell whether a photo may go to a use at this moment."""
    return Photo.objects.filter(pk=photo.pk).free_to_show(use).exists()


def lacking(
    photos: Iterable[Photo], uses: Iterable[str], member: Membership
) -> dict[str, dict[int, list[str]]]:
    """Say what photos still need for each use, in sentences, by their number.

    Nothing where one is ready; without caption, credit or description it may go
    (`is_free`), but is not ready. In two queries, whatever the uses.
    """
    photos = list(photos)
    bars = _bars_of(photos)
    return {
        use: {
            photo.pk: [*_why_not(photo, use, member, bars), *_not_described(photo)]
            for photo in photos
        }
        for use in uses
    }


def why_not_free(
    photos: Iterable[Photo], use: str, member: Membership
) -> dict[int, list[str]]:
    """Say why each of several photos may not go to a use; nothing where it may.

    As far as a member may know it. In two queries.
    """
    photos = list(photos)
    bars = _bars_of(photos)
    return {photo.pk: _why_not(photo, use, member, bars) for photo in photos}


@dataclass(frozen=True, slots=True)
class _Bars:
    """What is on record of some photos beside them: consents and open cases."""

    consents: Mapping[int, Sequence[PhotoConsent]]
    under_open_case: Container[int]


def _bars_of(photos: Sequence[Photo]) -> _Bars:
    numbers = [photo.pk for photo in photos]
    given: dict[int, list[PhotoConsent]] = defaultdict(list)
    for row in PhotoConsent.objects.filter(photo__in=numbers).order_by("person", "pk"):
        given[row.photo_id].append(row)
    found = Photo.objects.filter(pk__in=numbers).under_open_case()
    return _Bars(given, set(found.values_list("pk", flat=True)))


def _why_not(photo: Photo, use: str, member: Membership, bars: _Bars) -> list[str]:
    if not permissions.sees(member, photo):
        # Why is no business of the others.
        return [_("It may not be shown at present.")]
    named = permissions.may(member, Deed.KEEP_PHOTOS)
    consents = bars.consents.get(photo.pk, ())
    return [
        *_barred(photo, under_open_case=photo.pk in bars.under_open_case),
        *_not_let_go(photo, use),
        *dict.fromkeys(_not_agreed(photo, use, consents, named=named)),
    ]


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
