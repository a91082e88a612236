"""Drawings of the trade's words: a thing, and a ring round what the word means."""

from __future__ import annotations

from collections.abc import Callable

from orchard.demonstration.brush import (
    BARK,
    DARK_LEAF,
    LEAF,
    ORANGE,
    SOFT_LEAF,
    WHITE,
    Colour,
    Point,
)
from orchard.demonstration.sign_drawings.places import ground, limb, mulch, tree, trunk
from orchard.demonstration.sign_drawings.plants import (
    Shoot,
    big_leaf,
    fruit,
    hanging,
    leaves,
    small_leaf,
    stalk,
)
from orchard.demonstration.sign_drawings.strokes import (
    Piece,
    disc,
    lines_of,
    stroke,
    strokes,
)

MARK: Colour = (176, 42, 20)


def ring(centre: Point, across: float, flat: float = 1.0) -> Piece:
    """Draw what points at the meant part: a ring with a pale edge."""
    return disc(centre, across, None, WHITE, 7, flat) + disc(
        centre, across, None, MARK, 3.5, flat
    )


def _tree() -> Piece:
    return ground(130) + tree((80, 134), 122, LEAF)


def _grafted() -> Piece:
    roots = lines_of("72,118 52,130 30,134|88,118 110,130 132,136|80,118 80,140")
    top = [((62.0, 14.0), -70.0, 1.0), ((98.0, 18.0), 72.0, 1.0)]
    return (
        ground(112)
        + strokes(roots, BARK, 6)
        + trunk((80, 118), 128, 38, graft=46)
        + leaves(top, LEAF, small_leaf(40, 18))
    )


def canopy() -> Piece:
    return _tree() + ring((80, 58), 54, 0.92)


def crotch() -> Piece:
    return (
        limb([(80, 160), (80, 120), (80, 88)], 26)
        + limb([(80, 92), (62, 52), (38, -10)], 15)
        + limb([(80, 92), (100, 56), (124, -10)], 15)
        + ring((80, 84), 22)
    )


def drip_line() -> Piece:
    falls = lines_of("36,62 36,96 36,130|124,62 124,96 124,130")
    return _tree() + strokes(falls, MARK, 1.5) + ring((80, 132), 46, 0.2)


def flush() -> Piece:
    old, new = Shoot((80, 156), 92, -90), Shoot((80, 66), 54, -88)
    return (
        old.draw_stem(BARK)
        + new.draw_stem(SOFT_LEAF, 3)
        + leaves(old.places(6, low=0.05), DARK_LEAF, small_leaf(50, 22), "o")
        + leaves(new.places(6), SOFT_LEAF, small_leaf(34, 13), "n")
        + ring((80, 40), 44)
    )


def graft_union() -> Piece:
    return mulch(126) + trunk((80, 130), 140, 44, graft=62) + ring((80, 68), 38, 0.5)


def midrib() -> Piece:
    blade = big_leaf()
    return stalk(blade) + blade.draw(LEAF) + stroke(blade.midrib[::6], MARK, 4)


def root_flare() -> Piece:
    return ground(124) + trunk((80, 128), 140, 50) + ring((80, 116), 56, 0.3)


def rootstock() -> Piece:
    return _grafted() + ring((80, 107), 62, 0.55)


def scion() -> Piece:
    return _grafted() + ring((80, 32), 52, 0.72)


def skirt() -> Piece:
    return _tree() + ring((80, 90), 48, 0.28)


def stem_end() -> Piece:
    return hanging(84, 40) + fruit((80, 92), 52, ORANGE) + ring((85, 44), 18)


WORDS: tuple[Callable[[], Piece], ...] = (
    canopy,
    crotch,
    drip_line,
    flush,
    graft_union,
    midrib,
    root_flare,
    rootstock,
    scion,
    skirt,
    stem_end,
)
