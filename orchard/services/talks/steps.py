"""One step in a set of slides: what it changes, what is told, how it is undone.

Slides and places are numbered from 1 without gaps. What leaves a set is marked as
removed and keeps its row, so a step can put back whatever it took away.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from orchard.records.models import Slide, SlidePhoto, TalkSet, TalkStep, User
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import Refused

Row = TalkSet | Slide | SlidePhoto
MODELS: dict[str, Any] = {"slide": Slide, "slidephoto": SlidePhoto}
FIELDS: dict[type[Row], tuple[str, ...]] = {
    TalkSet: ("title",),
    Slide: ("position", "kind", "title", "text", "note"),
    SlidePhoto: ("position", "caption", "alt_text"),
}
TABLES = ("talkset", *MODELS)
# Farther than any set is long: positions on their way to others.
OUT_OF_THE_WAY = 10_000


@dataclass(slots=True)
class DraftSlide:
    """A slide and its places, in order, while a step is done to them."""

    slide: Slide
    places: list[SlidePhoto] = field(default_factory=list)


@dataclass(slots=True)
class Draft:
    """The rows of a set while a step is done to them; what leaves it is removed."""

    talk_set: TalkSet
    slides: list[DraftSlide]
    # The slide or photo that somebody moves; all others only get other numbers by it.
    moved: Slide | SlidePhoto | None = None

    def find(self, slide: Slide) -> DraftSlide:
        """Return a slide with its places.

        Raises:
            Refused (slide_gone): it was removed meanwhile.
        """
        for each in self.slides:
            if each.slide.pk == slide.pk:
                return each
        raise Refused(
            _("This slide was removed. Undo that, or go on with another."),
            code="slide_gone",
        )


@contextmanager
def step(
    talk_set: TalkSet, deed: TalkStep.Deed | None, *, by: User, now: datetime
) -> Iterator[Draft]:
    """Do one step to a set, in one transaction, so that it can be undone.

    Without a deed it belongs to the making of the set, and no undo takes it back.

    Raises:
        Refused (set_removed): the set was removed.
    """
    with transaction.atomic():
        draft = _locked(talk_set)
        there = _rows(draft)
        old = {_key(row): _values(row) for row in there}
        yield draft
        _save(draft, there, old, deed, by=by, now=now)


def _locked(talk_set: TalkSet) -> Draft:
    rows = TalkSet.objects.select_for_update(of=("self",), no_key=True).select_related(
        "orchard"
    )
    locked = rows.get(pk=talk_set.pk)
    if locked.removed_at is not None:
        raise Refused(
            _("This talk set was removed. Bring it back first."), code="set_removed"
        )
    slides = locked.slides.filter(removed_at=None).order_by("position")
    drafts = {slide.pk: DraftSlide(slide) for slide in slides}
    for each in drafts.values():
        each.slide.talk_set = locked
    places = SlidePhoto.objects.filter(slide__in=drafts, removed_at=None)
    for place in places.select_related("photo").order_by("position"):
        place.slide = drafts[place.slide_id].slide
        drafts[place.slide_id].places.append(place)
    return Draft(locked, list(drafts.values()))


def _rows(draft: Draft) -> list[Row]:
    rows: list[Row] = [draft.talk_set]
    for each in draft.slides:
        rows += [each.slide, *each.places]
    return rows


def _key(row: Row) -> tuple[str, int]:
    return str(row._meta.model_name), row.pk


def _values(row: Row) -> dict[str, Any]:
    return audit.snapshot(row, *FIELDS[type(row)])


def _save(
    draft: Draft,
    there: Sequence[Row],
    old: dict[tuple[str, int], dict[str, Any]],
    deed: TalkStep.Deed | None,
    *,
    by: User,
    now: datetime,
) -> None:
    for number, each in enumerate(draft.slides, 1):
        each.slide.position = number
        for place_number, place in enumerate(each.places, 1):
            place.position = place_number
    left = [row for row in _rows(draft) if row.pk is not None]
    standing = {_key(row) for row in left}
    gone = [row for row in there if _key(row) not in standing]
    changed = [row for row in left if _values(row) != old[_key(row)]]
    added_slides = [each.slide for each in draft.slides if each.slide.pk is None]
    added_places = [
        place for each in draft.slides for place in each.places if place.pk is None
    ]
    if not (gone or changed or added_slides or added_places):
        return
    _mark_removed(gone, now)
    _renumber(row for row in changed if not isinstance(row, TalkSet))
    for row in changed:
        if set(_differing(row, old)) - {"position"}:
            audit.save_row(row, FIELDS[type(row)])
    audit.save_new_rows(added_slides)
    audit.save_new_rows(added_places)
    added: tuple[Row, ...] = (*added_slides, *added_places)
    audit.write_lines(_lines(draft, gone, changed, added, old, by, now))
    if deed is not None:
        before: dict[str, dict[str, Any]] = {name: {} for name in TABLES}
        for row in (*gone, *changed, *added):
            name, number = _key(row)
            before[name][str(number)] = old.get((name, number))
        TalkStep.objects.create(
            talk_set=draft.talk_set, by=by, made_at=now, deed=deed, before=before
        )
    _touch(draft.talk_set, now)


def _touch(talk_set: TalkSet, now: datetime) -> None:
    talk_set.changed_at = now
    talk_set.save(update_fields=["changed_at"])


def _mark_removed(rows: Iterable[Row], now: datetime) -> None:
    for name, model in MODELS.items():
        numbers = [row.pk for row in rows if row._meta.model_name == name]
        model.objects.filter(pk__in=numbers).update(removed_at=now)


def _renumber(rows: Iterable[Row]) -> None:
    """Give rows their positions, those of slides and those within one."""
    rows = list(rows)
    for name, model in MODELS.items():
        of_this = [row for row in rows if row._meta.model_name == name]
        _write_placed(model, of_this, ["position"])


def _write_placed(model: Any, rows: Sequence[Row], fields: Sequence[str]) -> None:
    """Write rows whose positions change, each by way of one that none of them has."""
    found = model.objects.filter(pk__in=[row.pk for row in rows])
    found.update(position=F("position") + OUT_OF_THE_WAY)
    model.objects.bulk_update(rows, fields)


def _differing(row: Row, old: dict[tuple[str, int], dict[str, Any]]) -> list[str]:
    values, before = _values(row), old[_key(row)]
    return [name for name in values if values[name] != before[name]]


def _lines(
    draft: Draft,
    gone: Iterable[Row],
    changed: Iterable[Row],
    added: Iterable[Row],
    old: dict[tuple[str, int], dict[str, Any]],
    by: User,
    now: datetime,
) -> Iterator[Any]:
    """Tell of each row that is more than numbered anew."""
    orchard = draft.talk_set.orchard
    for row in added:
        yield audit.line(
            Verb.ADD, row, by=by, now=now, orchard=orchard, after=_values(row)
        )
    for row in gone:
        yield audit.line(
            Verb.REMOVE, row, by=by, now=now, orchard=orchard, before=old[_key(row)]
        )
    for row in changed:
        names = _differing(row, old)
        if names == ["position"] and row is not draft.moved:
            continue
        verb = Verb.MOVE if names == ["position"] else Verb.CORRECT
        yield audit.line(
            verb,
            row,
            by=by,
            now=now,
            orchard=orchard,
            before={name: old[_key(row)][name] for name in names},
            after={name: _values(row)[name] for name in names},
        )


def last_step(talk_set: TalkSet) -> TalkStep | None:
    """Return the step that an undo would take back, if there is one."""
    return talk_set.steps.filter(undone_at=None).order_by("-id").first()


@transaction.atomic
def undo(talk_set: TalkSet, *, by: User, now: datetime) -> TalkStep:
    """Take back the last step that was done to a set, whoever did it.

    Raises:
        Refused (nothing_to_undo): there is none.
        Refused (set_removed): the set was removed.
    """
    draft = _locked(talk_set)
    last = last_step(draft.talk_set)
    if last is None:
        raise Refused(_("There is nothing to undo here."), code="nothing_to_undo")
    for name, model in MODELS.items():
        before = last.before[name]
        rows = model.objects.in_bulk([int(number) for number in before])
        added = [row for row in rows.values() if before[str(row.pk)] is None]
        others = [row for row in rows.values() if before[str(row.pk)] is not None]
        _mark_removed(added, now)
        for row in others:
            for column, value in before[str(row.pk)].items():
                setattr(row, column, value)
            row.removed_at = None
        _write_placed(model, others, [*FIELDS[model], "removed_at"])
    for values in last.before["talkset"].values():
        draft.talk_set.title = values["title"]
        audit.save_row(draft.talk_set, ["title"])
    last.undone_at = now
    last.save(update_fields=["undone_at"])
    audit.write(
        Verb.UNDO,
        draft.talk_set,
        by=by,
        now=now,
        orchard=draft.talk_set.orchard,
        before={"step": str(last.get_deed_display())},
    )
    _touch(draft.talk_set, now)
    return last
