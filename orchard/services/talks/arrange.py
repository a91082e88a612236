"""Sets of slides: started, filled, edited, put in order, copied and removed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import (
    Orchard,
    Photo,
    Slide,
    SlidePhoto,
    TalkSet,
    TalkStep,
    User,
)
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.talks.steps import Draft, DraftSlide, step

Row = TypeVar("Row")
Kind = Slide.Kind
Deed = TalkStep.Deed
USE = "talks"
# More photos than this are too small to be seen from the last row.
MOST_ON_A_SLIDE = 6
MOST_SLIDES = 100
WITHOUT_PHOTOS = (Kind.TITLE, Kind.TEXT, Kind.CREDITS)


@dataclass(frozen=True, slots=True)
class NewSlide:
    """A slide to be added: what it says, and its photos in order."""

    kind: Slide.Kind
    title: str = ""
    text: str = ""
    photos: tuple[Photo, ...] = ()


@dataclass(frozen=True, slots=True)
class PlaceWords:
    """What is said of a photo on one slide."""

    caption: str
    alt_text: str


def slides_from(photos: Sequence[Photo], kind: Slide.Kind) -> tuple[NewSlide, ...]:
    """Lay photos out on slides of a kind, in their order.

    Raises:
        Refused (wrong_count): a pair, or before and after, of other than two photos.
    """
    if kind in (Kind.PAIR, Kind.BEFORE_AFTER):
        if len(photos) != 2:
            raise Refused(
                _("Choose exactly two photos for that."),
                code="wrong_count",
                field="photos",
            )
        return (NewSlide(kind, photos=tuple(photos)),)
    if kind == Kind.SERIES:
        most = MOST_ON_A_SLIDE
        parts = [photos[at : at + most] for at in range(0, len(photos), most)]
        return tuple(
            NewSlide(_kind_of(len(part)), photos=tuple(part)) for part in parts
        )
    return tuple(NewSlide(Kind.PICTURE, photos=(photo,)) for photo in photos)


def _kind_of(count: int, current: Slide.Kind = Kind.PAIR) -> Slide.Kind:
    """Return the kind of a slide with so many photos."""
    if count > 2:
        return Kind.SERIES
    if count == 2:
        return current if current == Kind.BEFORE_AFTER else Kind.PAIR
    return Kind.PICTURE if count else Kind.TEXT


@transaction.atomic
def start(
    orchard: Orchard,
    *,
    title: str,
    by: User,
    now: datetime,
    photos: Sequence[Photo] = (),
    kind: Slide.Kind = Kind.PICTURE,
    slides: Sequence[NewSlide] = (),
) -> TalkSet:
    """Make a set with a title slide, the given photos or slides, and closing credits.

    Raises:
        Refused (not_free): a photo may not be shown in talks.
        Refused (wrong_count), too_many_slides: as their names say.
    """
    talk_set = TalkSet(
        orchard=orchard, title=title.strip(), by=by, made_at=now, changed_at=now
    )
    audit.save(Verb.MAKE, talk_set, by=by, now=now, fields=["title"])
    first = NewSlide(Kind.TITLE, title=talk_set.title, text=orchard.name)
    last = NewSlide(Kind.CREDITS, title=_("Photos"))
    whole = (first, *slides, *slides_from(photos, kind), last)
    _append(talk_set, whole, None, by=by, now=now)
    return talk_set


def add(
    talk_set: TalkSet, slides: Sequence[NewSlide], *, by: User, now: datetime
) -> None:
    """Add slides at the end of a set, before its closing credits.

    Raises:
        Refused (not_free): a photo may not be shown in talks.
        Refused (too_many_slides), set_removed: as their names say.
    """
    _append(talk_set, slides, Deed.ADD, by=by, now=now)


def _append(
    talk_set: TalkSet,
    slides: Sequence[NewSlide],
    deed: TalkStep.Deed | None,
    *,
    by: User,
    now: datetime,
) -> None:
    _check_free(talk_set.orchard, [photo for each in slides for photo in each.photos])
    with step(talk_set, deed, by=by, now=now) as draft:
        at = len(draft.slides)
        if at and draft.slides[-1].slide.kind == Kind.CREDITS:
            at -= 1
        if len(draft.slides) + len(slides) > MOST_SLIDES:
            raise Refused(
                _("A set holds at most %(most)d slides. Start another one.")
                % {"most": MOST_SLIDES},
                code="too_many_slides",
            )
        draft.slides[at:at] = [_drafted(draft, each) for each in slides]


def _drafted(draft: Draft, new: NewSlide) -> DraftSlide:
    slide = Slide(
        talk_set=draft.talk_set,
        kind=new.kind,
        title=new.title.strip(),
        text=new.text.strip(),
    )
    return DraftSlide(slide, [_place(slide, photo) for photo in new.photos])


def _place(slide: Slide, photo: Photo) -> SlidePhoto:
    return SlidePhoto(
        slide=slide, photo=photo, caption=photo.caption, alt_text=photo.alt_text
    )


def free_of(orchard: Orchard, numbers: Iterable[int]) -> set[int]:
    """Return which photos, by their numbers, may be shown in talks at this moment."""
    free = Photo.objects.in_orchard(orchard).free_to_show(USE)
    return set(free.filter(pk__in=list(numbers)).values_list("pk", flat=True))


def _check_free(orchard: Orchard, photos: Sequence[Photo]) -> None:
    numbers = {photo.pk for photo in photos}
    count = len(numbers - free_of(orchard, numbers))
    if count:
        text = ngettext(
            "%(count)d photo may not be shown in talks. Choose another.",
            "%(count)d photos may not be shown in talks. Choose others.",
            count,
        )
        raise Refused(text % {"count": count}, code="not_free", field="photos")


def add_photos(
    slide: Slide, photos: Sequence[Photo], *, by: User, now: datetime
) -> None:
    """Add photos to a slide, which becomes a pair or a series by it.

    Raises:
        Refused (not_free): a photo may not be shown in talks.
        Refused (too_many_photos), slide_gone, set_removed: as their names say.
    """
    _check_free(slide.talk_set.orchard, photos)
    with step(slide.talk_set, Deed.EDIT, by=by, now=now) as draft:
        found = draft.find(slide)
        if len(found.places) + len(photos) > MOST_ON_A_SLIDE:
            raise Refused(
                _("A slide holds at most %(most)d photos.") % {"most": MOST_ON_A_SLIDE},
                code="too_many_photos",
                field="photos",
            )
        found.places += [_place(found.slide, photo) for photo in photos]
        found.slide.kind = _kind_of(len(found.places), Kind(found.slide.kind))


def edit(
    slide: Slide,
    *,
    title: str,
    text: str,
    note: str,
    words: Mapping[int, PlaceWords],
    by: User,
    now: datetime,
) -> None:
    """Write what a slide says: its own words, and those of its photos by their place.

    Raises:
        Refused (slide_gone), set_removed: as their names say.
    """
    with step(slide.talk_set, Deed.EDIT, by=by, now=now) as draft:
        found = draft.find(slide)
        found.slide.title = title.strip()
        found.slide.text = text.strip()
        found.slide.note = note.strip()
        for place in found.places:
            if place.pk in words:
                place.caption = words[place.pk].caption.strip()
                place.alt_text = words[place.pk].alt_text.strip()


def move(slide: Slide, *, to: int, by: User, now: datetime) -> int:
    """Move a slide to a number of its set, counted from 1; return where it stands.

    Raises:
        Refused (slide_gone), set_removed: as their names say.
    """
    with step(slide.talk_set, Deed.MOVE, by=by, now=now) as draft:
        found = draft.find(slide)
        draft.moved = found.slide
        return _put(draft.slides, found, to)


def move_photo(slide: Slide, place: int, *, to: int, by: User, now: datetime) -> int:
    """Move a photo of a slide to a number, counted from 1; return where it stands.

    Raises:
        Refused (photo_gone), slide_gone, set_removed: as their names say.
    """
    with step(slide.talk_set, Deed.EDIT, by=by, now=now) as draft:
        places = draft.find(slide).places
        found = next((each for each in places if each.pk == place), None)
        if found is None:
            raise Refused(
                _("This photo is not on the slide any more."), code="photo_gone"
            )
        draft.moved = found
        return _put(places, found, to)


def _put(rows: list[Row], row: Row, to: int) -> int:
    """Put a row of a list at a number, counted from 1; return where it stands."""
    rows.remove(row)
    at = max(0, min(to - 1, len(rows)))
    rows.insert(at, row)
    return at + 1


def remove(slide: Slide, *, by: User, now: datetime) -> None:
    """Remove a slide from its set.

    Raises:
        Refused (slide_gone), set_removed: as their names say.
    """
    with step(slide.talk_set, Deed.REMOVE, by=by, now=now) as draft:
        draft.slides.remove(draft.find(slide))


def remove_photo(slide: Slide, place: int, *, by: User, now: datetime) -> None:
    """Remove one photo from a slide; which photo is left decides what it becomes.

    Raises:
        Refused (slide_gone), set_removed: as their names say.
    """
    with step(slide.talk_set, Deed.EDIT, by=by, now=now) as draft:
        _drop(draft.find(slide), {place})


def _drop(found: DraftSlide, numbers: set[int]) -> None:
    found.places = [place for place in found.places if place.pk not in numbers]
    found.slide.kind = _kind_of(len(found.places), Kind(found.slide.kind))


def clear_empty(talk_set: TalkSet, *, by: User, now: datetime) -> None:
    """Remove the places whose photo may be shown no longer, and slides of nothing else.

    Raises:
        Refused (set_removed): the set was removed.
    """
    with step(talk_set, Deed.CLEAR, by=by, now=now) as draft:
        numbers = {place.photo_id for each in draft.slides for place in each.places}
        free = free_of(talk_set.orchard, numbers)
        for each in list(draft.slides):
            empty = {place.pk for place in each.places if place.photo_id not in free}
            if empty:
                _drop(each, empty)
                if not each.places:
                    draft.slides.remove(each)


def rename(talk_set: TalkSet, *, title: str, by: User, now: datetime) -> None:
    """Give a set another title.

    Raises:
        Refused (title_missing): it is empty.
    """
    if not title.strip():
        raise Refused(
            _("Give the talk set a title."), code="title_missing", field="title"
        )
    with step(talk_set, Deed.RENAME, by=by, now=now) as draft:
        draft.talk_set.title = title.strip()


@transaction.atomic
def copy(talk_set: TalkSet, *, by: User, now: datetime) -> TalkSet:
    """Copy a set as it stands, without places whose photo may be shown no longer."""
    rows = SlidePhoto.objects.filter(slide__talk_set=talk_set, removed_at=None)
    places = list(rows.order_by("slide", "position"))
    free = free_of(talk_set.orchard, (place.photo_id for place in places))
    title = _("Copy of %(title)s") % {"title": talk_set.title}
    copied = TalkSet(
        orchard=talk_set.orchard, title=title[:120], by=by, made_at=now, changed_at=now
    )
    audit.save(Verb.MAKE, copied, by=by, now=now, fields=["title"])
    with step(copied, None, by=by, now=now) as draft:
        for slide in talk_set.slides.filter(removed_at=None).order_by("position"):
            new = Slide(
                talk_set=draft.talk_set, kind=slide.kind, title=slide.title,
                text=slide.text, note=slide.note,
            )  # fmt: skip
            kept = [
                SlidePhoto(
                    slide=new, photo_id=place.photo_id, caption=place.caption,
                    alt_text=place.alt_text,
                )
                for place in places
                if place.slide_id == slide.pk and place.photo_id in free
            ]  # fmt: skip
            if slide.kind not in WITHOUT_PHOTOS:
                if not kept:
                    continue
                new.kind = _kind_of(len(kept), Kind(slide.kind))
            draft.slides.append(DraftSlide(new, kept))
    return copied


def remove_set(talk_set: TalkSet, *, by: User, now: datetime) -> None:
    """Take a set off the list; it can be brought back."""
    _set_removed(talk_set, Verb.REMOVE, now, by=by, now=now)


def bring_back(talk_set: TalkSet, *, by: User, now: datetime) -> None:
    """Put a removed set back on the list."""
    _set_removed(talk_set, Verb.BRING_BACK, None, by=by, now=now)


def _set_removed(
    talk_set: TalkSet, verb: Verb, at: datetime | None, *, by: User, now: datetime
) -> None:
    with transaction.atomic():
        locked = TalkSet.objects.select_for_update(no_key=True).get(pk=talk_set.pk)
        if (locked.removed_at is None) == (at is None):
            return
        before = audit.snapshot(locked, "removed_at")
        locked.removed_at = at
        locked.changed_at = now
        audit.save(
            verb, locked, by=by, now=now, before=before,
            fields=["removed_at", "changed_at"], after={},
        )  # fmt: skip
