"""Trunks, trees, ground, pots and water."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, radians, sin
from random import Random

from orchard.demonstration.brush import (
    BARK,
    BROWN,
    EARTH,
    INK,
    MULCH,
    STRAW,
    TERRACOTTA,
    WHITE,
    Colour,
    Point,
    along,
    mixed,
    trunk_edges,
)
from orchard.demonstration.sign_drawings.strokes import (
    Piece,
    blob,
    disc,
    dots,
    drawn,
    inside,
    shape,
    smooth_line,
    smooth_ring,
    stroke,
    strokes,
)

WATER: Colour = (150, 184, 196)
GRASS: Colour = (112, 150, 72)


def ground(level: float, fill: Colour = EARTH) -> Piece:
    """Draw the ground from side to side."""
    top: list[Point] = [(x, level + 1.5 * sin(x / 19)) for x in range(-10, 171, 20)]
    return drawn(smooth_line(top) + "V180H-10Z", fill)


def mulch(level: float) -> Piece:
    """Draw ground covered with chips."""
    dice = Random(6)
    chips = []
    for _chip in range(34):
        spot = (dice.uniform(2, 158), dice.uniform(level + 5, 143))
        chips.append([spot, along(spot, dice.uniform(5, 9), dice.uniform(-35, 35))])
    return ground(level, MULCH) + strokes(chips, mixed(MULCH, STRAW, 0.5), 1.8)


def grass(rows: Sequence[float], level: float, height: float = 18) -> Piece:
    """Draw tufts of grass standing at places along the ground."""
    blades = []
    for number, x in enumerate(rows):
        for lean in (-6, -1, 5):
            tall = height * (0.8 + 0.2 * (number % 3))
            blades.append(
                [
                    (x + lean / 3, level),
                    (x + lean * 0.7, level - tall * 0.5),
                    (x + lean * 1.6, level - tall),
                ]
            )
    return strokes(blades, INK, 3.4) + strokes(blades, GRASS, 1.8)


def trunk(
    foot: Point,
    height: float,
    width: float,
    *pieces: Piece,
    fill: Colour = BARK,
    graft: float | None = None,
    name: str = "t",
) -> Piece:
    """Draw a trunk standing on the ground with its flare; marks end at its edge."""
    left, right = trunk_edges(foot, height, width, graft=graft, sway=width / 50)
    outline = smooth_line(left[::2], [left[-1], right[-1]], right[::-2]) + "Z"
    dice = Random(9)
    lines = []
    for _line in range(round(width / 5)):
        x = foot[0] + dice.uniform(-0.4, 0.4) * width
        y = foot[1] - dice.uniform(0.04, 0.85) * height
        tall = dice.uniform(0.05, 0.13) * height
        lines.append([(x, y), (x + dice.uniform(-2, 2), y - tall)])
    bark = strokes(lines, mixed(fill, INK, 0.35), 1.1)
    seam = ""
    if graft is not None:
        y = foot[1] - graft
        seam = stroke(
            [
                (foot[0] - width * 0.5, y + 2),
                (foot[0] - width * 0.12, y - 1.5),
                (foot[0] + width * 0.2, y + 1.5),
                (foot[0] + width * 0.5, y - 2),
            ],
            mixed(fill, INK, 0.7),
            2,
        )
    return inside(name, outline, fill, [bark, seam, *pieces])


def limb(points: Sequence[Point], width: float, fill: Colour = BARK) -> Piece:
    """Draw a limb through points."""
    return stroke(points, INK, width + 3) + stroke(points, fill, width)


def _crown(centre: Point, radius: float, *, wave: float = 0.07) -> list[Point]:
    rows = []
    for step in range(28):
        turn = step * 360 / 28
        away = radius * (1 + (wave if step % 2 else -wave))
        rows.append(
            (
                centre[0] + away * cos(radians(turn)),
                centre[1] + away * 0.92 * sin(radians(turn)),
            )
        )
    return rows


def tree(
    foot: Point,
    height: float,
    fill: Colour,
    *,
    thin: bool = False,
    bare: bool = False,
    part: Colour | None = None,
    name: str = "c",
) -> Piece:
    """Draw a whole tree; thin, nearly bare, or with one limb of another colour."""
    x, y = foot
    radius = height * 0.36
    middle = (x, y - height * 0.62)
    stem = height * 0.07
    wood = [
        [(x, y), (x, y - height * 0.4)],
        [
            (x, y - height * 0.3),
            (x - radius * 0.3, middle[1]),
            (x - radius * 0.6, middle[1] - radius * 0.5),
        ],
        [
            (x, y - height * 0.32),
            (x + radius * 0.35, middle[1] + radius * 0.1),
            (x + radius * 0.65, middle[1] - radius * 0.35),
        ],
        [(x, y - height * 0.38), (x + radius * 0.05, middle[1] - radius * 0.7)],
    ]
    inner = strokes(wood[:1], INK, stem + 3) + strokes(wood[1:], INK, stem * 0.45 + 2.4)
    inner += strokes(wood[:1], BARK, stem) + strokes(wood[1:], BARK, stem * 0.45)
    if bare or thin:
        dice = Random(3)
        spots = []
        for _leaf in range(26 if bare else 90):
            spots.append(
                along(middle, radius * dice.random() ** 0.5, dice.uniform(0, 360))
            )
        size = height * 0.05 if bare else height * 0.075
        return inner + dots(spots, size + 2, INK) + dots(spots, size, fill)
    dice = Random(5)
    lit = [
        along(
            (middle[0] - radius * 0.15, middle[1] - radius * 0.2),
            radius * 0.75 * dice.random() ** 0.5,
            dice.uniform(0, 360),
        )
        for _leaf in range(40)
    ]
    marks = [dots(lit, height * 0.06, mixed(fill, WHITE, 0.18))]
    if part is not None:
        marks.append(
            blob(
                [
                    (middle[0] + radius * a, middle[1] + radius * b)
                    for a, b in (
                        (0.0, 0.35),
                        (0.2, -0.1),
                        (0.35, -0.6),
                        (0.8, -1.1),
                        (1.4, -0.4),
                        (1.3, 0.5),
                        (0.7, 0.6),
                    )
                ],
                part,
                INK,
                1.2,
            )
        )
    outline = smooth_ring(_crown(middle, radius))
    return inner + inside(name, outline, mixed(fill, INK, 0.12), marks)


def pot(
    foot: Point,
    width: float,
    height: float,
    *,
    soil: bool = False,
    fill: Colour = TERRACOTTA,
) -> Piece:
    """Draw a pot standing on a point."""
    x, y = foot
    half, top = width / 2, y - height
    rim = height * 0.2
    body = shape(
        [
            (x - half * 0.9, top + rim),
            (x + half * 0.9, top + rim),
            (x + half * 0.66, y),
            (x - half * 0.66, y),
        ],
        fill,
    )
    edge = shape(
        [
            (x - half, top),
            (x + half, top),
            (x + half * 0.96, top + rim),
            (x - half * 0.96, top + rim),
        ],
        mixed(fill, WHITE, 0.15),
    )
    earth = ""
    if soil:
        earth = blob(
            [
                (x - half * 0.9, top + 2),
                (x - half * 0.5, top - 4),
                (x, top - 6),
                (x + half * 0.5, top - 4),
                (x + half * 0.9, top + 2),
            ],
            mixed(EARTH, BROWN, 0.5),
        )
    return earth + body + edge


def puddle(centre: Point, half: float) -> Piece:
    """Draw standing water with two ripples."""
    x, y = centre
    return disc(centre, half, WATER, INK, None, 0.22) + strokes(
        [
            [(x - half * 0.6, y), (x - half * 0.4, y - 2), (x - half * 0.2, y)],
            [
                (x + half * 0.2, y + half * 0.08),
                (x + half * 0.4, y + half * 0.03),
                (x + half * 0.6, y + half * 0.08),
            ],
        ],
        WHITE,
        1.4,
    )
