"""Cards for paper: two signs easily mixed up, and on the back which is which."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from orchard.records.models import Finding, Photo
from orchard.science import guide
from orchard.services.talks.reading import Talk


@dataclass(frozen=True, slots=True)
class LookAlikeCard:
    """Two signs, the difference between them, and what photos there are of them."""

    sign: guide.Sign
    other: guide.Sign
    tell: str
    photos: dict[str, Photo]

    @property
    def credits(self) -> tuple[str, ...]:
        names = [photo.credit for photo in self.photos.values() if photo.credit]
        return tuple(dict.fromkeys(names))


def guide_pairs() -> tuple[tuple[guide.Sign, guide.Sign, str], ...]:
    """Return all pairs of the guide that are easily mixed up, each once."""
    signs = guide.load().signs
    found = {}
    for sign in sorted(signs.values(), key=lambda sign: sign.name):
        for alike in sign.alike:
            if alike.sign and (alike.sign, sign.key) not in found:
                found[sign.key, alike.sign] = (sign, signs[alike.sign], alike.tell)
    return tuple(found.values())


def cards_of(
    talk: Talk, chosen: Iterable[tuple[str, str]] = ()
) -> tuple[LookAlikeCard, ...]:
    """Return the cards of a set: of the chosen pairs, else of those its photos show.

    A sign that none of its photos shows is left to the drawing of the guide.
    """
    shown = _signs_on(talk)
    wanted = {frozenset(pair) for pair in chosen}
    return tuple(
        LookAlikeCard(
            sign,
            other,
            tell,
            {key: shown[key] for key in (sign.key, other.key) if key in shown},
        )
        for sign, other, tell in guide_pairs()
        if (
            frozenset((sign.key, other.key)) in wanted
            if wanted
            else sign.key in shown and other.key in shown
        )
    )


def _signs_on(talk: Talk) -> dict[str, Photo]:
    """Return a photo of the set for each sign that one of them shows."""
    photos = {photo.pk: photo for photo in talk.photos}
    findings = Finding.objects.current().filter(private=False, photos__in=photos)
    seen = findings.order_by("-pk").values_list("sign", "photos")
    shown = {sign: photos[number] for sign, number in seen if number in photos}
    for photo in photos.values():
        if photo.confirmed_sign:
            shown[photo.confirmed_sign] = photo
    return shown
