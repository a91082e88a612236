"""Insects, mites and other animals, drawn around nought, seen from above, head up.

Each is about 20 units long; `placed` gives it its place, its turn and its size.
"""

from __future__ import annotations

from collections.abc import Sequence

from orchard.demonstration.brush import (
    INK,
    WHITE,
    Colour,
    Point,
    along,
    mixed,
)
from orchard.demonstration.sign_drawings.strokes import (
    Piece,
    blob,
    disc,
    dots,
    lines_of,
    points_of,
    stroke,
    strokes,
)

WAX: Colour = (255, 254, 248)
CLEAR: Colour = (236, 240, 236)
RED: Colour = (176, 44, 36)


def legs(reach: float, rows: Sequence[float] = (-4, 0, 4), *, slim: float = 3) -> Piece:
    """Draw three pairs of legs, each bent at the knee."""
    lines: list[list[Point]] = []
    for number, y in enumerate(rows):
        lift = (number - 1) * 3.5
        for side in (-1, 1):
            lines.append(
                [
                    (side * slim, y),
                    (side * reach * 0.7, y + lift - 1.5),
                    (side * reach, y + lift * 1.7),
                ]
            )
    return strokes(lines)


def feelers(length: float, y: float, spread: float = 35) -> Piece:
    """Draw two feelers at the head."""
    return strokes(
        [
            [(side * 1.5, y), along((side * 1.5, y), length, -90 + side * spread)]
            for side in (-1, 1)
        ]
    )


def psyllid_nymph(fill: Colour = (252, 208, 110), *, wax: bool = True) -> Piece:
    """Draw a flat nymph with wing pads and red eyes, with curly strings of wax."""
    body = points_of(
        "-4,-9 4,-9 6,-5 9,-3 9,4 6,5 7,9 3,12 -3,12 -7,9 -6,5 -9,4 -9,-3 -6,-5"
    )
    strings = ""
    if wax:
        rows: list[list[Point]] = [
            points_of("-2,11 -7,17 0,20 -4,26 -12,24"),
            points_of("0,12 3,18 -1,24 5,30 2,35"),
            points_of("2,11 9,15 6,21 13,24 16,19"),
        ]
        strings = strokes(rows, INK, 3) + strokes(rows, WAX, 1.8)
    seams: list[list[Point]] = [
        points_of("-6,-4 0,-3 6,-4"),
        points_of("-6,4 0,5 6,4"),
        [(0, -3), (0, 11)],
        points_of("-5,8 0,8.5 5,8"),
    ]
    return (
        strings
        + legs(11, (-6, -1, 3), slim=5)
        + blob(body, fill)
        + strokes(seams, mixed(fill, INK, 0.5), 0.7)
        + dots([(-4, -6.5), (4, -6.5)], 3.2, RED)
    )


def psyllid_adult(wing: Colour = (196, 166, 122), *, mottled: bool = True) -> Piece:
    """Draw an adult from the side: head at nought, tail raised at its feeding slant."""
    edge = points_of("0,-4 8,-7 17,-8 24,-5 23,-1 14,2 4,1")
    veins: list[list[Point]] = [points_of("3,-2 12,-4 22,-4"), [(9, -3), (17, -1)]]
    wing_piece = blob(edge, wing) + strokes(veins, mixed(wing, INK, 0.5), 0.6)
    if mottled:
        brown = mixed(wing, INK, 0.6)
        wing_piece += dots(points_of("8,-5.5 12,-6 16,-6.4 20,-5.4 22,-3"), 2, brown)
        wing_piece += dots(points_of("10,-1 14,0 18,-1"), 1.6, brown)
    return (
        strokes(lines_of("-1,1 -5,0 -6,2.5|3,1 0,3 -2,6.5|7,1 6,6 2.5,11"))
        + strokes([points_of("-4,-3 -9,-5 -12,-3")])
        + blob(points_of("-6,-3 -1,-6 6,-4 10,0 4,3 -3,2"), mixed(wing, INK, 0.45))
        + wing_piece
        + dots([(-4, -2)], 3, RED)
    )


def aphid(fill: Colour) -> Piece:
    """Draw an aphid: a pear with two little pipes at the tail."""
    return (
        legs(9, (-4, 0, 4))
        + feelers(9, -7)
        + strokes([[(-4, 6), (-6, 11)], [(4, 6), (6, 11)]], INK, 1.8)
        + blob(points_of("-2,-9 2,-9 5,-3 7,4 4,10 -4,10 -7,4 -5,-3"), fill)
        + dots([(-2, -7), (2, -7)], 1.6, INK)
    )


def fly(
    chest: Colour,
    tail: Colour,
    *marks: Piece,
    wing: Colour = CLEAR,
    eye: Colour = RED,
    bands: Sequence[Sequence[Point]] = (),
    band: Colour = (150, 104, 48),
) -> Piece:
    """Draw a fly from above with spread wings; bands lie on the right wing."""
    outline = points_of("2,-5 9,-8 17,-5 21,1 18,6 11,4 4,-1")
    wings = ""
    for side in (-1, 1):
        wings += blob([(side * x, y) for x, y in outline], wing, INK, 1)
        for row in bands:
            wings += stroke([(side * x, y) for x, y in row], band, 2.2)
        wings += strokes(
            [
                [(side * 3, -4), (side * 11, -4), (side * 18, 0)],
                [(side * 4, -3), (side * 12, 1)],
            ],
            mixed(INK, WHITE, 0.3),
            0.6,
        )
    return (
        legs(11, (-3, 0, 3))
        + wings
        + blob(points_of("-4,1 4,1 5,6 3,11 0,13 -3,11 -5,6"), tail)
        + blob(points_of("-4,-7 4,-7 5.5,-2 4,3 -4,3 -5.5,-2"), chest)
        + disc((0, -9), 4, mixed(chest, WHITE, 0.4), INK, 1, 0.75)
        + dots([(-3, -9.2), (3, -9.2)], 3.4, eye)
        + "".join(marks)
    )


def maggot(length: float = 20) -> Piece:
    """Draw a white maggot without legs, thin at its head."""
    half = length / 2
    rings: list[list[Point]] = [
        [(half * x, -2.6 + abs(x) * 0.8), (half * x - 0.7, 2.6 - abs(x) * 0.8)]
        for x in (-0.5, -0.2, 0.1, 0.4, 0.65)
    ]
    return (
        blob(
            [
                (-half, -0.4),
                (-half * 0.4, -2.6),
                (half * 0.5, -3.6),
                (half, -2.4),
                (half, 2.4),
                (half * 0.5, 3.6),
                (-half * 0.4, 2.8),
                (-half, 0.8),
            ],
            WAX,
        )
        + strokes(rings, mixed(WHITE, INK, 0.35), 0.7)
        + dots([(-half + 0.6, 0.2)], 1.6, INK)
    )


def caterpillar(
    fill: Colour, head: Colour, *, length: float = 30, bend: float = 3.0
) -> Piece:
    """Draw a caterpillar from the side: head, body rings and legs."""
    half = length / 2
    row = [(half * x, -bend * (1 - x * x)) for x in (-0.9, -0.45, 0, 0.45, 0.95)]
    feet = [
        [(half * x, -bend * (1 - x * x) + 2), (half * x - 0.5, -bend * (1 - x * x) + 5)]
        for x in (-0.75, -0.62, -0.5, 0.0, 0.17, 0.34, 0.5, 0.9)
    ]
    rings = [
        [(half * x, -bend * (1 - x * x) - 2.2), (half * x, -bend * (1 - x * x) + 2.4)]
        for x in (-0.6, -0.35, -0.1, 0.15, 0.4, 0.65)
    ]
    return (
        strokes(feet)
        + stroke(row, INK, 8)
        + stroke(row, fill, 5.8)
        + strokes(rings, mixed(fill, INK, 0.4), 0.8)
        + disc((-half, 0), 3.4, head)
    )


def mite(fill: Colour) -> Piece:
    """Draw a mite: a round body with four pairs of legs."""
    lines: list[list[Point]] = []
    for y, lift in ((-5, -7), (-2, -3), (2, 3), (5, 7)):
        for side in (-1, 1):
            lines.append(
                [(side * 4, y), (side * 10, y + lift * 0.4), (side * 13, y + lift)]
            )
    hairs = [[(x, y), (x * 1.4, y - 3)] for x in (-3, 3) for y in (-3, 2, 6)]
    body = blob(points_of("-3,-9 3,-9 7,-3 7,4 4,10 -4,10 -7,4 -7,-3"), fill)
    return strokes(lines) + body + strokes(hairs, mixed(fill, WHITE, 0.7), 0.7)


def ant() -> Piece:
    """Draw an ant: three dark parts, six legs and bent feelers."""
    return (
        legs(9, (-3, 0, 2), slim=1)
        + strokes([points_of("-1,-8 -5,-10 -6,-14"), points_of("1,-8 5,-10 6,-14")])
        + blob(points_of("0,2 4,4 4,9 0,12 -4,9 -4,4"), INK, None)
        + disc((0, -1), 2.4, INK, None, None, 1.5)
        + disc((0, -7), 3, INK, None)
    )


def beetle(
    shell: Colour,
    *marks: Piece,
    feeler: float = 26,
    banded: bool = False,
    neck: Colour | None = None,
    long: float = 1.0,
) -> Piece:
    """Draw a beetle with closed wing covers."""
    tail = 2 + 14 * long
    lines: list[list[Point]] = [
        [
            (side * 2, -11),
            (side * feeler * 0.45, -19),
            (side * feeler * 0.85, -13),
            (side * feeler, 2),
        ]
        for side in (-1, 1)
    ]
    white = strokes(lines, WHITE, 0.9) if banded else ""
    if banded:
        white = white.replace("<path", '<path stroke-dasharray="3 3"')
    return (
        strokes(lines, INK, 1.8 if banded else 1.2)
        + white
        + legs(12, (-5, 1, 6), slim=4)
        + blob(
            [
                (-6, -4),
                (6, -4),
                (7, 4),
                (5, tail - 2),
                (0, tail),
                (-5, tail - 2),
                (-7, 4),
            ],
            shell,
        )
        + stroke([(0, -4), (0, tail - 1)], mixed(shell, WHITE, 0.4), 0.7)
        + blob(points_of("-4,-9 4,-9 5.5,-6 4,-3 -4,-3 -5.5,-6"), neck or shell)
        + disc((0, -10.5), 3, shell, INK, 1, 0.8)
        + "".join(marks)
    )


def shield_bug(fill: Colour, *, spines: bool = False) -> Piece:
    """Draw a shield bug, with or without a spine on each shoulder."""
    tip = 13 if spines else 8.5
    return (
        legs(13, (-4, 1, 5), slim=6)
        + feelers(10, -11, 30)
        + blob(
            points_of(
                "-3,-11 3,-11 6,-7 9,-4 8.5,3 5,10 0,13 -5,10 -8.5,3 -9,-4 -6,-7"
            ),
            fill,
        )
        + (
            strokes([[(-8, -4), (-tip, -8)], [(8, -4), (tip, -8)]], INK, 2.6)
            if spines
            else ""
        )
        + strokes(
            [
                points_of("-8,-2.5 0,-1 8,-2.5"),
                points_of("-4,-1.5 0,6 4,-1.5"),
                points_of("-7,5 0,9 7,5"),
            ],
            mixed(fill, INK, 0.6),
            0.9,
        )
        + dots([(-2.5, -10), (2.5, -10)], 2, INK)
    )


def snail(shell: Colour) -> Piece:
    """Draw a snail from the side, creeping to the left."""
    foot: Colour = (196, 178, 140)
    curl = [along((3, -4), 8.5 - step * 0.55, 40 + step * 48) for step in range(15)]
    return (
        strokes([[(-13, -1), (-16, -8)], [(-10, -2), (-10, -9)]])
        + blob(points_of("-16,1 -11,-3 -4,1 8,1 17,5 10,6 -13,6"), foot)
        + disc((3, -4), 9, shell)
        + stroke(curl, mixed(shell, INK, 0.7), 1.4)
    )
