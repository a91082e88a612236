"""Marks on leaves, fruit and wood: spots with rings, craters, gum, holes, web."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from orchard.demonstration.brush import (
    BROWN,
    INK,
    STRAW,
    WHITE,
    YELLOW,
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
    repeated,
    stroke,
    strokes,
)

CORK: Colour = (202, 166, 112)
AMBER: Colour = (206, 120, 30)
SOAKED: Colour = (60, 80, 44)
GREY: Colour = (186, 182, 170)
DUST: Colour = (222, 190, 136)


def craters(
    places: Iterable[tuple[Point, float]], *, halo: Colour = YELLOW, name: str = "k"
) -> Piece:
    """Draw raised corky craters: yellow ring, soaked rim, lit wall, torn pit."""
    cracks = [
        [along((0, 0), 2, turn), along((0, 0), 5, turn + 12)]
        for turn in (20, 95, 160, 230, 310)
    ]
    crater = (
        disc((0, 0), 17.5, halo, None)
        + disc((0, 0), 11.2, SOAKED, None)
        + disc((0, 0), 10, CORK, INK, 1.2)
        + disc((-1, -1), 7.2, mixed(CORK, WHITE, 0.45), None)
        + disc((0, 0), 4.2, (104, 74, 46), INK, 1)
        + strokes(cracks, mixed(BROWN, INK, 0.4), 1)
    )
    return repeated(name, crater, [(at, size * 40, size / 10) for at, size in places])


def gum_drop(at: Point, size: float, *, run: float = 0.0) -> Piece:
    """Draw a drop of gum with its shine, hanging or run down."""
    x, y = at
    low = y + size + run
    return blob(
        [
            (x - size * 0.5, y - size * 0.4),
            (x + size * 0.5, y - size * 0.4),
            (x + size * 0.85, low - size * 0.7),
            (x + size * 0.5, low),
            (x - size * 0.5, low),
            (x - size * 0.85, low - size * 0.7),
        ],
        AMBER,
    ) + dots(
        [(x - size * 0.25, low - size * 0.55)],
        max(1.2, size * 0.4),
        mixed(AMBER, WHITE, 0.7),
    )


def hole(at: Point, radius: float, *, rim: Colour = CORK, flat: float = 1.0) -> Piece:
    """Draw a dark hole with a lighter rim."""
    return disc(at, radius * 1.3, rim, INK, 1, flat) + disc(
        at, radius, (34, 28, 24), None, None, flat
    )


def sawdust(at: Point, width: float, height: float) -> Piece:
    """Draw a heap of sawdust or droppings, its foot at a point."""
    x, y = at
    half = width / 2
    heap = blob(
        [
            (x - half, y),
            (x - half * 0.5, y - height * 0.6),
            (x, y - height),
            (x + half * 0.5, y - height * 0.6),
            (x + half, y),
            (x, y + 2),
        ],
        DUST,
    )
    specks = [
        (x + half * a, y - height * b)
        for a, b in (
            (-0.5, 0.2),
            (-0.1, 0.6),
            (0.2, 0.3),
            (0.45, 0.25),
            (-0.2, 0.2),
            (0.1, 0.75),
            (0.62, 0.1),
            (-0.72, 0.05),
        )
    ]
    return heap + dots(specks, 1.5, mixed(BROWN, INK, 0.3))


def web(rows: Sequence[Sequence[Point]]) -> Piece:
    """Draw threads of silk."""
    return strokes(rows, INK, 1.6) + strokes(rows, WHITE, 0.8)


def wavy(start: Point, end: Point, swing: float, count: int) -> list[Point]:
    """Return points of a line that swings from side to side."""
    rows = []
    for step in range(count + 1):
        part = step / count
        x = start[0] + (end[0] - start[0]) * part
        y = start[1] + (end[1] - start[1]) * part
        long = ((end[0] - start[0]) ** 2 + (end[1] - start[1]) ** 2) ** 0.5
        side = 0 if step in (0, count) else swing * (1 if step % 2 else -1)
        rows.append(
            (
                x - (end[1] - start[1]) / long * side,
                y + (end[0] - start[0]) / long * side,
            )
        )
    return rows


def arrow(start: Point, end: Point, colour: Colour = INK, line: float = 2) -> Piece:
    """Draw an arrow."""
    x, y = start[0] - end[0], start[1] - end[1]
    long = (x * x + y * y) ** 0.5
    x, y = x / long * 6, y / long * 6
    return stroke([start, end], colour, line) + strokes(
        [
            [(end[0] + x - y * 0.7, end[1] + y + x * 0.7), end],
            [(end[0] + x + y * 0.7, end[1] + y - x * 0.7), end],
        ],
        colour,
        line,
    )


PALE: Colour = mixed(STRAW, WHITE, 0.3)
