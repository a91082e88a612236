"""What photos show: tree, sign, part, verdict, condition, and how sure the name is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from orchard.records.models import Finding, Membership, Photo, PhotoLink
from orchard.science.windows import season
from orchard.science.words import Season, Verdict
from orchard.services.permissions import Deed, may


@dataclass(frozen=True, slots=True)
class DepictedSign:
    """A sign in a photo, as the finding that it belongs to has it."""

    sign: str
    part: str
    verdict: Verdict
    sureness: Finding.Sureness


@dataclass(frozen=True, slots=True)
class Depicted:
    """A photo with what it shows, as far as that is on record."""

    photo: Photo
    at: datetime
    season: Season
    tree: str
    kind: str
    condition: int | None
    signs: tuple[DepictedSign, ...]


def depicted(photos: Iterable[Photo], member: Membership) -> tuple[Depicted, ...]:
    """Tell what photos of the member's orchard show, in two queries."""
    photos = list(photos)
    numbers = [photo.pk for photo in photos]
    trees, scores = _trees_and_scores(numbers)
    signs = _signs(numbers, with_cases=may(member, Deed.SEE_PRIVATE))
    zone = ZoneInfo(member.orchard.time_zone)
    latitude = float(member.orchard.latitude)
    found = []
    for photo in photos:
        at = photo.taken_at or photo.received_at
        code, kind = trees.get(photo.pk, ("", ""))
        found.append(
            Depicted(
                photo=photo,
                at=at,
                season=season(at.astimezone(zone).date(), latitude),
                tree=code,
                kind=kind,
                condition=scores.get(photo.pk),
                signs=tuple(signs[photo.pk]),
            )
        )
    return tuple(found)


def _trees_and_scores(
    photos: list[int],
) -> tuple[dict[int, tuple[str, str]], dict[int, int]]:
    trees: dict[int, tuple[str, str]] = {}
    scores: dict[int, int] = {}
    rows = PhotoLink.objects.filter(photo__in=photos).about("tree", "inspection")
    for photo, code, kind, score in rows.order_by("pk").values_list(
        "photo_id", "tree__code", "tree__kind__name", "inspection__condition"
    ):
        if code is not None:
            trees.setdefault(photo, (code, kind))
        if score is not None:
            scores.setdefault(photo, score)
    return trees, scores


def _signs(photos: list[int], *, with_cases: bool) -> dict[int, list[DepictedSign]]:
    signs: dict[int, list[DepictedSign]] = defaultdict(list)
    rows: Any = Finding.objects.current().with_sureness(with_cases=with_cases)
    for row in (
        rows.filter(photos__in=photos)
        .order_by("pk")
        .values("photos", "sign", "part", "verdict", "override", "sureness")
    ):
        signs[row["photos"]].append(
            DepictedSign(
                sign=row["sign"],
                part=row["part"],
                verdict=Verdict(row["override"] or row["verdict"]),
                sureness=Finding.Sureness(row["sureness"]),
            )
        )
    return signs
