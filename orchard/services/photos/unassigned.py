"""Strays: photos that came without a record, and where each may belong."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import IO, Any
from uuid import UUID

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from orchard.records.models import (
    Inspection,
    Membership,
    Orchard,
    Photo,
    Round,
    Tree,
    User,
)
from orchard.science.figures import figure
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import MayNot, Refused
from orchard.services.paging import Page, page_by_key
from orchard.services.permissions import Deed, may
from orchard.services.photos import images, keeping

PAGE = 30
MOST_SUGGESTED = 4
MOST_AT_ONCE = 20


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A look that a photo may belong to; without `apart` only the round says so."""

    inspection: Inspection
    apart: timedelta | None

    @property
    def minutes(self) -> int | None:
        return None if self.apart is None else round(self.apart.total_seconds() / 60)


@dataclass(frozen=True, slots=True)
class Stray:
    """A photo without a record, and what it may belong to, the likeliest first."""

    photo: Photo
    suggestions: tuple[Suggestion, ...]


def unassigned_photos(
    member: Membership, *, after: str = ""
) -> tuple[Page[Stray], int]:
    """Return a page of photos that wait for their record, and how many wait in all.

    The oldest come first. One sees one's own; those who keep the photos see all of the
    orchard.
    """
    mine = _open_to(member)
    named = mine.select_related("by", "orchard").prefetch_related("rounds")
    page = page_by_key(named, "received_at", "id", after=after, size=PAGE)
    strays = _with_suggestions(member, page.rows)
    return Page(strays, page.next_key), mine.count()


def _open_to(member: Membership) -> Any:
    found = Photo.objects.current().unassigned().in_orchard(member.orchard)
    if not may(member, Deed.KEEP_PHOTOS):
        found = found.filter(by=member.user)
    if not may(member, Deed.SEE_PRIVATE):
        found = found.filter(Q(private=False) | Q(by=member.user))
    return found


def suggested(photo: Photo, member: Membership) -> tuple[Suggestion, ...]:
    """Return what one photo may belong to, the likeliest first."""
    [stray] = _with_suggestions(member, [photo])
    return stray.suggestions


def _with_suggestions(member: Membership, strays: Sequence[Photo]) -> tuple[Stray, ...]:
    looks = defaultdict(list)
    for look in _looks(member, strays):
        looks[look.by_id].append(look)
    return tuple(Stray(photo, _fitting(photo, looks[photo.by_id])) for photo in strays)


def _looks(member: Membership, strays: Iterable[Photo]) -> list[Inspection]:
    """Find the looks of the same people near the photos, or on the same rounds."""
    wanted = Q(pk__in=[])
    near = _near()
    for photo in strays:
        if photo.taken_at is not None:
            wanted |= Q(
                by_id=photo.by_id,
                seen_at__gte=photo.taken_at - near,
                seen_at__lte=photo.taken_at + near,
            )
        wanted |= Q(by_id=photo.by_id, round__in=_rounds_of(photo))
    return list(
        Inspection.objects.current()
        .in_orchard(member.orchard)
        .filter(wanted)
        .select_related("tree__kind")
        .order_by("seen_at", "id")
    )


def _near() -> timedelta:
    """At a tree one looks, takes the photo and writes it down."""
    return timedelta(minutes=figure("photo_near_look_min").value)


def _rounds_of(photo: Photo) -> set[int]:
    return {row.pk for row in photo.rounds.all()}


def _fitting(photo: Photo, looks: Iterable[Inspection]) -> tuple[Suggestion, ...]:
    near, on_round = [], []
    rounds = _rounds_of(photo)
    for look in looks:
        apart = abs(look.seen_at - photo.taken_at) if photo.taken_at else None
        if apart is not None and apart <= _near():
            near.append(Suggestion(look, apart))
        elif look.round_id in rounds:
            on_round.append(Suggestion(look, None))
    near.sort(
        key=lambda suggestion: (suggestion.apart or _near(), suggestion.inspection.pk)
    )
    # Without a time the last look before the photo came in is the likeliest.
    on_round.sort(key=lambda suggestion: suggestion.inspection.seen_at, reverse=True)
    return tuple([*near, *on_round][:MOST_SUGGESTED])


def bring(
    files: Iterable[IO[bytes]],
    *,
    orchard: Orchard,
    by: User,
    now: datetime,
    round: Round | None = None,
    tree: Tree | None = None,
) -> tuple[int, int]:
    """Keep photos that have no record yet; say how many are new, how many were known.

    All are kept or none; with a tree, all of them show it. Call it outside a
    transaction.

    Raises:
        Refused (bad_picture): one of the files is not a photo that can be kept.
        Refused (no_photos), too_many_photos: as their names say.
    """
    brought = list(files)
    if not brought:
        raise Refused(_("No photo is chosen."), code="no_photos", field="photos")
    if len(brought) > MOST_AT_ONCE:
        raise Refused(
            _("At most %(count)d photos come at once. Send the rest after them.")
            % {"count": MOST_AT_ONCE},
            code="too_many_photos",
            field="photos",
        )
    laid = keeping.lay_down([images.read_picture(file) for file in brought])
    kept: set[UUID] = set()
    try:
        with transaction.atomic():
            for name, picture in laid:
                photo = keeping.enter(
                    name,
                    picture,
                    orchard=orchard,
                    by=by,
                    now=now,
                    round=round,
                    tree=tree,
                )
                kept.add(photo.name)
    finally:
        # Files cannot be rolled back: what the book did not take is removed again.
        keeping.take_away_unentered(name for name, _picture in laid)
    new = sum(name in kept for name, _picture in laid)
    return new, len(laid) - new


@transaction.atomic
def assign(
    photo: Photo,
    *,
    member: Membership,
    now: datetime,
    inspection: Inspection | None = None,
    tree: Tree | None = None,
) -> Photo:
    """Say which look, or at least which tree, a photo without a record belongs to.

    It becomes private with a private record.

    Raises:
        MayNot: it is another's photo and the member does not keep the photos.
        Refused (already_assigned), not_of_this_orchard, not_current, tree_missing: as
            named.
    """
    current = (
        Photo.objects.current()
        .select_for_update(of=("self",), no_key=True)
        .filter(pk=photo.pk)
        .first()
    )
    if current is None or current.links.about("tree", "inspection").exists():
        raise Refused(
            _("Somebody else has assigned this photo already."),
            code="already_assigned",
        )
    if current.by_id != member.user_id and not may(member, Deed.KEEP_PHOTOS):
        raise MayNot(
            _(
                "Only the person who took the photo, a crew lead or staff can say "
                "where it belongs."
            )
        )
    if inspection is None and tree is None:
        raise Refused(
            _("Choose the inspection or tree it belongs to."),
            code="tree_missing",
            field="tree",
        )
    if inspection is not None:
        if not inspection.is_current:
            raise Refused(
                _("That record was changed in the meantime. Choose another."),
                code="not_current",
            )
        tree = inspection.tree
    if tree is None or tree.orchard_id != current.orchard_id:
        raise Refused(
            _("Choose a tree of this orchard."),
            code="not_of_this_orchard",
            field="tree",
        )
    links = keeping.link(current, {"tree": tree, "inspection": inspection})
    was_private = current.private
    current.private = current.private or bool(inspection and inspection.has_private)
    current.confirmed_sign = "" if current.private else current.confirmed_sign
    return audit.save(
        Verb.LINK,
        current,
        by=member.user,
        now=now,
        fields=("private", "confirmed_sign"),
        before={**dict.fromkeys(links), "private": was_private},
        after={**links, "private": current.private},
        tree=tree,
    )
