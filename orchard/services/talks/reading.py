"""A set as it may be shown at this moment: the one way to whatever leaves of it.

Every page and every file of a set is made from a `Talk`. A photo that may not be shown
in talks any more is not in it, nor is what was said of it: its place is empty.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.core.files.storage import default_storage
from django.db.models import Count, Q, QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import (
    Membership,
    Orchard,
    Photo,
    Slide,
    SlidePhoto,
    TalkSet,
)
from orchard.services import photos
from orchard.services.errors import Refused
from orchard.services.paging import Page, page_by_key
from orchard.services.talks.arrange import USE, free_of

Kind = Slide.Kind
SETS_ON_A_PAGE = 40
CHOICE = 24


@dataclass(frozen=True, slots=True)
class SlidePlace:
    """A place on a slide. Without a photo it fell empty, and `why_empty` says why."""

    number: int
    photo: Photo | None
    caption: str = ""
    alt_text: str = ""
    why_empty: str = ""

    @property
    def credit(self) -> str:
        return self.photo.credit if self.photo else ""

    @property
    def lacks(self) -> tuple[str, ...]:
        """Say what is missing before it may leave."""
        if self.photo is None:
            return (_("A place is empty."),)
        missing = (
            (self.caption, _("The caption is missing.")),
            (self.alt_text, _("The description is missing.")),
            (self.photo.credit, _("The credit is missing.")),
        )
        return tuple(sentence for text, sentence in missing if not text)


@dataclass(frozen=True, slots=True)
class TalkSlide:
    """A slide with its places, as it is shown."""

    number: int
    position: int
    kind: Slide.Kind
    title: str
    text: str
    note: str
    places: tuple[SlidePlace, ...]

    @property
    def shown(self) -> tuple[SlidePlace, ...]:
        """The places that have a photo."""
        return tuple(place for place in self.places if place.photo is not None)

    @property
    def lacks(self) -> tuple[str, ...]:
        return tuple(
            dict.fromkeys(line for place in self.places for line in place.lacks)
        )

    @property
    def has_empty_place(self) -> bool:
        return len(self.shown) < len(self.places)


@dataclass(frozen=True, slots=True)
class Talk:
    """A set with its slides in order."""

    talk_set: TalkSet
    slides: tuple[TalkSlide, ...]

    @property
    def credits(self) -> tuple[str, ...]:
        """Everybody who is named with a photo of it, in the order of the slides."""
        names = (place.credit for each in self.slides for place in each.shown)
        return tuple(dict.fromkeys(name for name in names if name))

    @property
    def unfinished(self) -> tuple[TalkSlide, ...]:
        """The slides that lack something."""
        return tuple(slide for slide in self.slides if slide.lacks)

    @property
    def has_empty_places(self) -> bool:
        return any(slide.has_empty_place for slide in self.slides)

    @property
    def photos(self) -> tuple[Photo, ...]:
        found = (place.photo for each in self.slides for place in each.shown)
        return tuple(photo for photo in found if photo is not None)


def read(talk_set: TalkSet, member: Membership) -> Talk:
    """Return a set as it may be shown now, with what its reader may know of its gaps.

    In a fixed number of queries.
    """
    slides = list(talk_set.slides.filter(removed_at=None).order_by("position"))
    places: dict[int, list[SlidePlace]] = defaultdict(list)
    rows = SlidePhoto.objects.filter(
        slide__talk_set=talk_set, slide__removed_at=None, removed_at=None
    )
    rows = rows.select_related("photo").order_by("slide", "position")
    numbers = {row.photo_id for row in rows}
    free = free_of(talk_set.orchard, numbers)
    empty = [row.photo for row in rows if row.photo_id not in free]
    why = photos.why_not_free(empty, USE, member)
    for row in rows:
        places[row.slide_id].append(
            SlidePlace(row.pk, row.photo, row.caption, row.alt_text)
            if row.photo_id in free
            else SlidePlace(row.pk, None, why_empty=" ".join(why[row.photo_id]))
        )
    return Talk(
        talk_set,
        tuple(
            TalkSlide(
                number=slide.pk,
                position=slide.position,
                kind=Kind(slide.kind),
                title=slide.title,
                text=slide.text,
                note=slide.note,
                places=tuple(places[slide.pk]),
            )
            for slide in slides
        ),
    )


def require_finished(talk: Talk) -> None:
    """Refuse to let a set leave that has no slides, or one that lacks something.

    Raises:
        Refused (not_finished): the first slide that lacks something, and what.
    """
    if not talk.slides:
        raise Refused(_("This set has no slides."), code="not_finished")
    if talk.unfinished:
        slide = talk.unfinished[0]
        text = _("Slide %(number)d: %(lacks)s Complete it, then fetch the file again.")
        values = {"number": slide.position, "lacks": " ".join(slide.lacks)}
        raise Refused(text % values, code="not_finished")


def sets_of(orchard: Orchard, *, after: str = "") -> Page[TalkSet]:
    """Return the sets of an orchard, the last changed first."""
    rows = sets_there(orchard).select_related("by")
    rows = rows.annotate(count=Count("slides", filter=Q(slides__removed_at=None)))
    return page_by_key(rows, "-changed_at", "-id", after=after, size=SETS_ON_A_PAGE)


def sets_there(orchard: Orchard) -> QuerySet[TalkSet]:
    """Return the sets of an orchard that were not put away."""
    return TalkSet.objects.in_orchard(orchard).there()


def free_photos(
    orchard: Orchard, *, tree: str = "", text: str = "", after: str = ""
) -> Page[Photo]:
    """Return photos that may be shown in talks, the newest first."""
    rows = _free(orchard)
    if tree.strip():
        rows = rows.filter(trees__code__iexact=tree.strip())
    if text.strip():
        rows = rows.filter(caption__icontains=text.strip())
    return page_by_key(rows, "-received_at", "-id", after=after, size=CHOICE)


def photos_chosen(orchard: Orchard, numbers: Iterable[int]) -> list[Photo]:
    """Return photos by their numbers, in that order, without those not free."""
    found = _free(orchard).in_bulk(list(numbers))
    return [found[number] for number in numbers if number in found]


def _free(orchard: Orchard) -> QuerySet[Photo]:
    rows = Photo.objects.in_orchard(orchard).free_to_show(USE)
    return rows.prefetch_related("trees")


def content(photo: Photo, size: str) -> bytes:
    """Return a size of a photo as it lies in the store: pixels and nothing else."""
    with default_storage.open(photos.path_of(photo.name, size)) as stored:
        found: bytes = stored.read()
    return found
