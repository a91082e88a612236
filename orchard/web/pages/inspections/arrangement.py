"""Where on the form a sign stands: the places of the drawn tree, usual now first."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple

from django.utils.translation import gettext as _

from orchard.science import guide
from orchard.science.guide import Sign
from orchard.science.words import Part

# The seven places of the drawn tree; a sign stands where its first part is.
PLACES = {
    "leaf": {Part.LEAF},
    "shoot": {Part.SHOOT, Part.BUD},
    "fruit": {Part.FRUIT},
    "flower": {Part.FLOWER},
    "trunk": {Part.TRUNK, Part.GRAFT, Part.LIMB},
    "ground": {Part.ROOT, Part.SOIL, Part.CONTAINER, Part.SITE},
    "tree": {Part.WHOLE_TREE, Part.CANOPY},
}
RARE = 99


class Standing(NamedTuple):
    """How a sign stands among the others of its place."""

    places: tuple[str, ...] = ()
    is_usual: bool = False
    # The sign beside it that is easily mixed up with it, and what sets this one apart.
    pair: str = ""
    tell: str = ""


ALONE = Standing()


def place_titles() -> dict[str, str]:
    """Return the places of the drawn tree in words."""
    return {
        "leaf": _("Leaf"),
        "shoot": _("Shoot"),
        "fruit": _("Fruit"),
        "flower": _("Flower"),
        "trunk": _("Trunk, graft and limbs"),
        "ground": _("Ground"),
        "tree": _("Whole tree"),
    }


def places_of(sign: Sign) -> tuple[str, ...]:
    """Return the places where a sign is looked for, its own first."""
    found = [
        key for part in sign.parts for key, parts in PLACES.items() if part in parts
    ]
    return tuple(dict.fromkeys(found)) or ("tree",)


def arranged(season_month: int, *hosts: str) -> dict[str, Standing]:
    """Return how every sign of sorts of tree stands, in the order of the form."""
    return _arranged(guide.load().edition, season_month, hosts)


@lru_cache(maxsize=128)
def _arranged(
    edition: str, season_month: int, hosts: tuple[str, ...]
) -> dict[str, Standing]:
    signs = [
        sign
        for sign in guide.load().signs.values()
        if any(sign.fits(host) for host in hosts)
    ]
    standings: dict[str, Standing] = {}
    for place in PLACES:
        here = [sign for sign in signs if places_of(sign)[0] == place]
        here.sort(key=lambda sign: _order(sign, season_month))
        standings.update(_in_pairs(here, season_month))
    return standings


def _order(sign: Sign, season_month: int) -> tuple[bool, int, str]:
    return not _is_usual(sign, season_month), sign.common or RARE, sign.name


def _is_usual(sign: Sign, season_month: int) -> bool:
    return sign.common is not None and season_month in sign.usual_sm


def _in_pairs(signs: Iterable[Sign], season_month: int) -> dict[str, Standing]:
    """Put beside each sign the first of those it is mistaken for, if it is here."""
    left = {sign.key: sign for sign in signs}
    standings = {}
    while left:
        first = left.pop(next(iter(left)))
        alike = next((row for row in first.alike if row.sign in left), None)
        pair = [first]
        if alike is not None:
            pair.append(left.pop(alike.sign))
        for sign, other in zip(pair, reversed(pair), strict=True):
            tells = [row.tell for row in other.alike if row.sign == sign.key]
            standings[sign.key] = Standing(
                places_of(sign),
                _is_usual(sign, season_month),
                other.key if other is not sign else "",
                tells[0] if tells and other is not sign else "",
            )
    return standings
