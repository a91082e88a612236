"""The sheet a sign is drawn on: paper, a scale bar, and a lens for small things."""

from __future__ import annotations

from dataclasses import dataclass

from orchard.demonstration.brush import INK, PAPER, Colour, Point, mixed
from orchard.demonstration.sign_drawings.strokes import (
    Piece,
    colour_text,
    disc,
    number,
)

SIDE = 160
# Under the drawing: the scale bar and its length.
DRAWN_HEIGHT = 144
# Every length that a bar may have, in millimetres, with its words.
BARS = {
    0.1: "0.1 mm",
    0.2: "0.2 mm",
    0.5: "0.5 mm",
    1.0: "1 mm",
    2.0: "2 mm",
    5.0: "5 mm",
    10.0: "1 cm",
    20.0: "2 cm",
    50.0: "5 cm",
    100.0: "10 cm",
    200.0: "20 cm",
    500.0: "50 cm",
    1000.0: "1 m",
    2000.0: "2 m",
    5000.0: "5 m",
}
LENS: Colour = (253, 250, 240)
PAGE: Colour = mixed(PAPER, LENS, 0.5)


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing of a sign: what it shows in a sentence, how wide the view is, ink."""

    shows: str
    # What the whole width of the sheet stands for, in millimetres.
    across: float
    pieces: tuple[Piece, ...]


def drawing(shows: str, across: float, *pieces: Piece) -> Drawing:
    """Put pieces together to a drawing."""
    return Drawing(shows, across, pieces)


def scale_bar(end: Point, per_mm: float, *, longest: float = 44) -> Piece:
    """Draw the longest round length that fits, ending at a point, with its words."""
    length = max(mm for mm in BARS if mm * per_mm <= longest)
    x, y = end
    start = number(x - length * per_mm)
    # Paper under it, where it lies on what is drawn.
    left = x - length * per_mm - 6 - 6.2 * len(BARS[length])
    return (
        f'<path d="M{number(left)} {number(y)}H{number(x + 2)}" '
        f'stroke="{colour_text(PAGE)}" stroke-width="12"/>'
        f'<path d="M{start} {number(y - 3)}v6m0-3H{number(x)}m0-3v6"/>'
        f'<text x="{number(x - length * per_mm - 4)}" y="{number(y + 3.8)}" '
        f'text-anchor="end" fill="{colour_text(INK)}" stroke="none">'
        f"{BARS[length]}</text>"
    )


def lens(centre: Point, radius: float, across: float, *pieces: Piece) -> Piece:
    """Draw a round view through a lens, so many millimetres wide, with its own bar.

    The pieces lie around nought; the bar below it stays above the sheet's own.
    """
    x, y = centre[0], min(centre[1], DRAWN_HEIGHT - radius - 13)
    name = f"n{round(x)}"
    return (
        f'<clipPath id="{name}"><circle r="{number(radius)}"/></clipPath>'
        f'<g transform="translate({number(x)} {number(y)})">'
        f"{disc((0, 0), radius, LENS, None)}"
        f'<g clip-path="url(#{name})">{"".join(pieces)}</g>'
        f"{disc((0, 0), radius, None, INK, 2.5)}</g>"
        + scale_bar((x + radius, y + radius + 7), 2 * radius / across, longest=radius)
    )


def svg_text(title: str, plan: Drawing) -> str:
    """Return a drawing as a file: paper, what is drawn, and the scale bar."""
    bar = scale_bar((SIDE - 6, 152), SIDE / plan.across)
    view = f'<svg width="{SIDE}" height="{DRAWN_HEIGHT}">{"".join(plan.pieces)}</svg>'
    return _file(
        'aria-labelledby="title shows"',
        f'<title id="title">{title}</title><desc id="shows">{plan.shows}</desc>',
        f"{view}{bar}",
    )


def word_text(title: str, drawn: Piece) -> str:
    """Return the drawing of a word as a file: it has no scale."""
    return _file('aria-labelledby="title"', f'<title id="title">{title}</title>', drawn)


def _file(labelled: str, named: str, drawn: Piece) -> str:
    ground = colour_text(PAGE)
    ink = colour_text(INK)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIDE} {SIDE}" '
        f'role="img" {labelled}>{named}'
        f'<rect width="{SIDE}" height="{SIDE}" fill="{ground}"/>'
        f'<g fill="none" stroke="{ink}" stroke-width="1.5" stroke-linecap="round" '
        f'stroke-linejoin="round" font-family="sans-serif" font-size="11">'
        f"{drawn}</g></svg>\n"
    )
