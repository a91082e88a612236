"""How good a photo is, and which others are nearly the same: pointed out, no more."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from enum import StrEnum
from io import BytesIO

from django.core.files.storage import default_storage
from django.db.models import Q
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Membership, Photo, PhotoLink
from orchard.science.figures import figure
from orchard.science.pictures import bits_apart
from orchard.services import permissions
from orchard.services.photos.images import measured
from orchard.services.photos.keeping import path_of
from orchard.services.photos.library import photos_seen_by

logger = logging.getLogger(__name__)

MEASURES = ("sharpness", "brightness", "likeness")
# Stands for the brightness of a file that is no picture any more.
NO_PICTURE = -1.0
# Copies and series come in together, or show the same tree.
TOGETHER = timedelta(days=1)
MOST_COMPARED, MOST_SHOWN = 2_000, 6


class Flaw(StrEnum):
    """What makes a photo hard to see, as far as it can be measured."""

    BLURRED = "blurred"
    DARK = "dark"
    BRIGHT = "bright"
    UNREADABLE = "unreadable"

    @property
    def words(self) -> Promise:
        return _WORDS[self]


_WORDS = {
    Flaw.BLURRED: _("may be blurred"),
    Flaw.DARK: _("very dark"),
    Flaw.BRIGHT: _("very bright"),
    Flaw.UNREADABLE: _("the file is damaged"),
}


def flaw_of(photo: Photo) -> Flaw | None:
    """Return what makes a photo hard to see, if it was measured and anything does.

    Poor light weakens every edge: where there is, nothing is said of sharpness.
    """
    sharp, bright = photo.sharpness, photo.brightness
    if bright == NO_PICTURE:
        return Flaw.UNREADABLE
    if bright is not None and bright < figure("photo_dark_below").value:
        return Flaw.DARK
    if bright is not None and bright > figure("photo_bright_above").value:
        return Flaw.BRIGHT
    if sharp is not None and sharp < figure("photo_blurred_below").value:
        return Flaw.BLURRED
    return None


def alike(photo: Photo, member: Membership) -> list[Photo]:
    """Return the photos that look nearly like one, the most alike first.

    They are looked for where they come from: on the same tree, and among what was
    received within a day of it.
    """
    if photo.likeness is None:
        return []
    rows = Photo.objects.current().in_orchard(photo.orchard).exclude(pk=photo.pk)
    rows = rows.exclude(likeness=None)
    trees = PhotoLink.objects.filter(photo=photo).about("tree").values("tree")
    on_tree = PhotoLink.objects.filter(tree__in=trees).values("photo")
    received = _around(photo.received_at)
    compared = [
        *rows.filter(pk__in=on_tree).order_by("-pk")[:MOST_COMPARED],
        *rows.filter(received_at__range=received).order_by("-pk")[:MOST_COMPARED],
    ]
    seen = {other.pk: other for other in compared if permissions.sees(member, other)}
    likenesses = {
        number: other.likeness
        for number, other in seen.items()
        if other.likeness is not None
    }
    numbers = _nearest(photo.likeness, likenesses)[:MOST_SHOWN]
    return [seen[number] for number in numbers]


def _nearest(likeness: int, others: Mapping[int, int]) -> list[int]:
    """Return the numbers of what looks nearly like it, the most alike first."""
    most = figure("photo_alike_bits").value
    near = [
        (bits, -number)
        for number, other in others.items()
        if (bits := bits_apart(likeness, other)) <= most
    ]
    return [-number for _bits, number in sorted(near)]


def doubles_of(shown: Iterable[Photo], member: Membership) -> dict[int, Photo]:
    """Return, by the number of each photo that has one, the photo most like it.

    For a page of them in two queries: looked for among what the member finds in the
    library and came in within a day of it, the latest first.
    """
    measured = {photo: photo.likeness for photo in shown if photo.likeness is not None}
    if not measured:
        return {}
    around = Q()
    for since, until in _spans(photo.received_at for photo in measured):
        around |= Q(received_at__range=(since, until))
    rows = photos_seen_by(member).exclude(likeness=None).filter(around)
    likenesses, received = {}, {}
    for number, other, received_at in rows.order_by("-received_at", "-pk").values_list(
        "pk", "likeness", "received_at"
    )[:MOST_COMPARED]:
        if other is not None:
            likenesses[number], received[number] = other, received_at
    doubles = {}
    for photo, likeness in measured.items():
        since, until = _around(photo.received_at)
        for number in _nearest(likeness, likenesses):
            if number != photo.pk and since <= received[number] <= until:
                doubles[photo.pk] = number
                break
    found = Photo.objects.in_bulk(set(doubles.values()))
    return {number: found[double] for number, double in doubles.items()}


def _around(moment: datetime) -> tuple[datetime, datetime]:
    return moment - TOGETHER, moment + TOGETHER


def _spans(moments: Iterable[datetime]) -> list[tuple[datetime, datetime]]:
    """Return the time around moments, in as few stretches as there are."""
    spans: list[tuple[datetime, datetime]] = []
    for moment in sorted(moments):
        since, until = _around(moment)
        if spans and since <= spans[-1][1]:
            since = spans.pop()[0]
        spans.append((since, until))
    return spans


def measure_old(*, most: int) -> int:
    """Measure photos that came before there was a measure, and count them.

    One whose file is damaged is marked so, and not tried again; a file that the store
    does not give may be back another night. Both go into the log.
    """
    count = 0
    for photo in Photo.objects.current().filter(brightness=None).order_by("-pk")[:most]:
        try:
            with default_storage.open(path_of(photo.name, "small")) as stored:
                small = BytesIO(stored.read())
        except Exception:
            # Each kind of store fails in its own way.
            logger.exception("The file of photo %s cannot be had", photo.name)
            continue
        try:
            measures = measured(small)
        except Exception:
            # A broken file can fail anywhere inside a decoder.
            logger.exception("Photo %s could not be measured", photo.name)
            photo.brightness = NO_PICTURE
        else:
            for name in MEASURES:
                setattr(photo, name, getattr(measures, name))
            count += 1
        photo.save(update_fields=MEASURES)
    return count
