"""Leaves, shoots, twigs, flowers and fruit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import cos, radians, sin
from random import Random

from orchard.demonstration.brush import (
    BARK,
    DARK_LEAF,
    INK,
    ORANGE,
    STRAW,
    WHITE,
    YELLOW,
    Colour,
    Point,
    along,
    leaf_outline,
    mixed,
    shoot_stem,
)
from orchard.demonstration.sign_drawings.strokes import (
    Piece,
    Place,
    blob,
    disc,
    dots,
    drawn,
    inside,
    placed,
    points_of,
    repeated,
    smooth_line,
    smooth_ring,
    straight_line,
    stroke,
    strokes,
)

PITH: Colour = (250, 240, 208)
LEMON: Colour = (240, 208, 72)
UNRIPE: Colour = (92, 128, 56)
# Bark and soil light enough to show what is dark on them, in grey too.
PALE_BARK: Colour = mixed(BARK, STRAW, 0.5)
PALE_EARTH: Colour = (212, 192, 162)


@dataclass(frozen=True)
class Blade:
    """A leaf blade, from its foot in a direction."""

    foot: Point
    length: float
    width: float
    angle: float
    bend: float = 0.0

    @cached_property
    def edges(self) -> tuple[list[Point], list[Point]]:
        return leaf_outline(
            self.foot, self.length, self.width, self.angle, bend=self.bend
        )

    @cached_property
    def midrib(self) -> list[Point]:
        left, right = self.edges
        return [
            ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
            for a, b in zip(left, right, strict=True)
        ]

    @cached_property
    def outline(self) -> str:
        left, right = self.edges
        return smooth_line(left[::3], right[::-3]) + "Z"

    def at(self, place: float, side: float) -> Point:
        """Return a point: so far from foot to tip, so far from midrib to an edge."""
        number = place * 24
        low = min(23, int(number))
        part = number - low
        edge = self.edges[0] if side < 0 else self.edges[1]
        here, there = (
            (
                self.midrib[spot][0]
                + (edge[spot][0] - self.midrib[spot][0]) * abs(side),
                self.midrib[spot][1]
                + (edge[spot][1] - self.midrib[spot][1]) * abs(side),
            )
            for spot in (low, low + 1)
        )
        return (
            here[0] + (there[0] - here[0]) * part,
            here[1] + (there[1] - here[1]) * part,
        )

    def scattered(
        self,
        dice: Random,
        count: int,
        *,
        low: float = 0.1,
        high: float = 0.9,
        wide: float = 0.85,
        apart: float = 5.0,
    ) -> list[Point]:
        """Return points strewn over the blade, none too near another."""
        spots: list[Point] = []
        for _try in range(count * 20):
            spot = self.at(dice.uniform(low, high), dice.uniform(-wide, wide))
            if all(
                (spot[0] - x) ** 2 + (spot[1] - y) ** 2 > apart**2 for x, y in spots
            ):
                spots.append(spot)
            if len(spots) == count:
                break
        return spots

    def patch(
        self,
        places: Sequence[tuple[float, float]],
        fill: Colour,
        edge: Colour | None = None,
        line: float = 7,
    ) -> Piece:
        """Fill a soft patch given by places on the blade; an edge lets it fade out."""
        return blob([self.at(*place) for place in places], fill, edge, line)

    def veins(self, colour: Colour, line: float = 0.9, *, every: int = 3) -> Piece:
        """Draw the midrib and the side veins."""
        left, right = self.edges
        rows = []
        for place in range(3, 22, every):
            for edge in (left, right):
                tip, foot = edge[min(place + 3, 24)], self.midrib[place]
                end = (
                    foot[0] + (tip[0] - foot[0]) * 0.86,
                    foot[1] + (tip[1] - foot[1]) * 0.86,
                )
                rows.append(straight_line((foot, end)))
        middle = smooth_line(self.midrib[::6])
        return drawn("".join(rows), None, colour, line) + drawn(
            middle, None, colour, line * 1.9
        )

    def draw(
        self,
        fill: Colour,
        *marks: Piece,
        veins: Colour | None = None,
        line: float = 0.9,
        name: str = "b",
    ) -> Piece:
        """Draw the leaf: blade, marks on it, veins and edge."""
        ribs = self.veins(veins or mixed(fill, INK, 0.35), line)
        return inside(name, self.outline, fill, [*marks, ribs])


def big_leaf(*, width: float = 76, bend: float = 4) -> Blade:
    """Return the one leaf that fills the sheet, from lower left to upper right."""
    return Blade((14, 132), 162, width, -37, bend)


def stalk(blade: Blade, colour: Colour = DARK_LEAF) -> Piece:
    """Draw the stalk that a leaf stands on."""
    end = along(blade.foot, -22, blade.angle + 8)
    return stroke([end, along(blade.foot, -10, blade.angle), blade.foot], colour, 3.5)


def small_leaf(
    length: float, width: float, *, veins: bool = True, bend: float = 0.0
) -> Piece:
    """Draw a leaf that stands on nought and points up, its colour still open."""
    blade = Blade((0, 0), length, width, -90, bend)
    left, right = blade.edges
    rib = smooth_line(blade.midrib[::8])
    if veins:
        for place in (6, 12, 17):
            for edge in (left, right):
                rib += straight_line((blade.midrib[place], edge[place + 3]))
    outline = smooth_line(left[::6], right[::-6]) + "Z"
    return f'<path d="{outline}"/><path d="{rib}" stroke-width=".8"/>'


@dataclass(frozen=True)
class Shoot:
    """A leafy shoot: a stem in a direction, and the places of its leaves."""

    foot: Point
    length: float
    angle: float

    @cached_property
    def stem(self) -> list[Point]:
        return shoot_stem(self.foot, self.length, self.angle)

    def at(self, place: float) -> Point:
        return self.stem[min(20, round(place * 20))]

    def leaf_places(self, text: str) -> list[Place]:
        """Read where leaves sit, written like "0.2,-66,0.9": place, turn, size."""
        rows = []
        for words in text.split():
            part, turn, size = (float(word) for word in words.split(","))
            rows.append((self.at(part), turn, size))
        return rows

    def places(
        self, count: int, *, low: float = 0.1, spread: float = 57, size: float = 1.0
    ) -> list[Place]:
        """Return where leaves sit, left and right in turn, smaller towards the tip."""
        rows = []
        for number in range(count):
            part = low + (1 - low) * (number + 0.5) / count
            side = -1 if number % 2 else 1
            rows.append(
                (
                    self.at(part),
                    self.angle + 90 + side * (spread - 24 * part),
                    size * (1.1 - 0.45 * part),
                )
            )
        return rows

    def draw_stem(self, colour: Colour, line: float = 4) -> Piece:
        """Draw the stem with an edge of ink."""
        return stroke(self.stem[::4], INK, line + 2) + stroke(
            self.stem[::4], colour, line
        )


def leaves(
    places: Sequence[Place],
    fill: Colour,
    piece: Piece,
    name: str = "f",
) -> Piece:
    """Draw the same leaf in many places."""
    colour = "#{:02x}{:02x}{:02x}".format(*fill)
    return f'<g fill="{colour}">{repeated(name, piece, places)}</g>'


def twig(points: Sequence[Point], fill: Colour = BARK, line: float = 7) -> Piece:
    """Draw a twig through points."""
    return stroke(points, INK, line + 2.5) + stroke(points, fill, line)


def _fruit_marks(x: float, y: float, radius: float, fill: Colour) -> list[Piece]:
    dice = Random(round(radius))
    lit = disc((x - radius * 0.14, y - radius * 0.14), radius * 0.8, fill, None)
    shine = disc(
        (x - radius * 0.32, y - radius * 0.36),
        radius * 0.3,
        mixed(fill, WHITE, 0.3),
        None,
    )
    pores = [
        along((x, y), dice.uniform(0, radius * 0.85), dice.uniform(0, 360))
        for _pore in range(round(radius / 3))
    ]
    return [lit, shine, dots(pores, max(1.0, radius / 40), mixed(fill, INK, 0.25))]


def fruit(
    centre: Point,
    radius: float,
    fill: Colour,
    *marks: Piece,
    outline: Sequence[Point] | None = None,
    stem: bool = True,
    name: str = "o",
) -> Piece:
    """Draw a fruit with a lit side and its stem end above, marks on its skin."""
    x, y = centre
    ring = outline or round_outline(centre, radius)
    body = inside(
        name,
        smooth_ring(ring),
        mixed(fill, INK, 0.14),
        [*_fruit_marks(x, y, radius, fill), *marks],
    )
    if not stem:
        return body
    top = (x + radius * 0.1, y - radius * 0.92)
    return body + disc(top, max(1.5, radius * 0.11), DARK_LEAF, INK, 1)


def fruits(
    places: Sequence[Point], radius: float, fill: Colour, name: str = "x"
) -> Piece:
    """Draw the same small fruit in many places."""
    piece = (
        disc((0, 0), radius, mixed(fill, INK, 0.14))
        + disc((-radius * 0.14, -radius * 0.14), radius * 0.8, fill, None)
        + dots(
            [(-radius * 0.32, -radius * 0.36)], radius * 0.6, mixed(fill, WHITE, 0.3)
        )
        + dots([(radius * 0.1, -radius * 0.92)], max(2.4, radius * 0.2), DARK_LEAF)
    )
    return repeated(name, piece, [(place, 0.0, 1.0) for place in places])


def hanging(x: float, y: float, *, size: float = 1.0) -> Piece:
    """Draw the twig and two leaves that a fruit hangs from; its top is at a point."""
    return leaves(
        [((x + 4, y), 66.0, size), ((x - 2, y), -68.0, size * 0.9)],
        DARK_LEAF,
        small_leaf(56, 23),
    ) + twig([(x + 3, y - 34), (x, y)], BARK, 4)


def round_outline(
    centre: Point,
    radius: float,
    *,
    flat: float = 1.0,
    wave: float = 0.0,
    turns: int = 3,
) -> list[Point]:
    """Return points around a fruit; a wave makes it lopsided."""
    rows = []
    for step in range(16):
        turn = step * 22.5
        # The soft line runs inside its points by so much.
        away = radius * 1.04 * (1 + wave * sin(radians(turn * turns)))
        rows.append(
            (
                centre[0] + away * cos(radians(turn)),
                centre[1] + away * flat * sin(radians(turn)),
            )
        )
    return rows


def lemon_outline(centre: Point, radius: float) -> list[Point]:
    """Return points around a lemon lying from left to right."""
    x, y = centre
    rows = points_of(
        "-1.5,0.02 -1.3,-0.18 -1.05,-0.52 -0.6,-0.88 0,-1.04 "
        "0.6,-0.88 1.02,-0.5 1.28,-0.22 1.52,-0.14 1.56,0.1 "
        "1.3,0.22 1.02,0.55 0.6,0.9 0,1.04 -0.6,0.88 -1.05,0.52 "
        "-1.3,0.2"
    )
    return [(x + a * radius, y + b * radius) for a, b in rows]


def cut_across(
    centre: Point,
    radius: float,
    *marks: Piece,
    rind: Colour = ORANGE,
    flesh: Colour | None = None,
    pith: Colour = PITH,
    count: int = 9,
    thick: float = 0.16,
) -> Piece:
    """Draw a citrus fruit cut across, with its segments."""
    inner = radius * (1 - thick)
    turn = 180 / count
    wedge = [
        (0, -inner * 0.14),
        along((0, 0), inner * 0.55, -90 - turn * 0.8),
        along((0, 0), inner * 1.02, -90 - turn * 0.8),
        along((0, 0), inner * 1.06, -90),
        along((0, 0), inner * 1.02, -90 + turn * 0.8),
        along((0, 0), inner * 0.55, -90 + turn * 0.8),
    ]
    fill = flesh or mixed(rind, WHITE, 0.2)
    colour = "#{:02x}{:02x}{:02x}".format(*fill)
    places = [((0.0, 0.0), number * 2 * turn, 1.0) for number in range(count)]
    segments = repeated(
        f"w{round(radius)}", blob(wedge, None, mixed(fill, INK, 0.3)), places
    )
    body = (
        disc((0, 0), radius, rind)
        + disc((0, 0), radius * (1 - thick * 0.35), pith, None)
        + f'<g fill="{colour}">{segments}</g>'
        + "".join(marks)
    )
    return placed(body, centre)


def flower(
    centre: Point,
    size: float,
    petal: Colour = WHITE,
    *,
    turn: float = 0.0,
    count: int = 5,
    name: str = "p",
) -> Piece:
    """Draw an open flower with its stamens."""
    leaf = Blade((0, 0), size, size * 0.55, -90)
    left, right = leaf.edges
    path = smooth_line(left[::6], right[::-6]) + "Z"
    places = [(centre, turn + number * 360 / count, 1.0) for number in range(count)]
    threads = [along(centre, size * 0.36, number * 45) for number in range(8)]
    return (
        leaves(places, petal, f'<path d="{path}"/>', name)
        + strokes([(centre, end) for end in threads], mixed(YELLOW, INK, 0.2), 1)
        + dots(threads, size * 0.1, (226, 172, 50))
    )
