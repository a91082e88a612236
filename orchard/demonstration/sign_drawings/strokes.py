"""The pen of the sign drawings: points and colours in, short pieces of SVG out.

The units are those of the finished drawing, 160 wide. Figures carry one decimal, so
that a drawing stays small.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from orchard.demonstration.brush import INK, Colour, Point

Piece = str
# Where something is, how it is turned and how large.
Place = tuple[Point, float, float]


def number(value: float) -> str:
    """Write a figure with one decimal at most, as short as SVG allows."""
    text = f"{value:.1f}".rstrip("0").rstrip(".")
    if text in ("-0", ""):
        return "0"
    return text.replace("0.", ".", 1) if text.startswith(("0.", "-0.")) else text


def colour_text(colour: Colour | None) -> str:
    return "none" if colour is None else "#{:02x}{:02x}{:02x}".format(*colour)


def _pair(x: float, y: float) -> str:
    first, second = number(x), number(y)
    return f"{first}{second}" if second.startswith("-") else f"{first} {second}"


def points_of(text: str) -> list[Point]:
    """Read points written like "10,20 30,40"."""
    points = []
    for pair in text.split():
        x, y = pair.split(",")
        points.append((float(x), float(y)))
    return points


def lines_of(text: str) -> list[list[Point]]:
    """Read rows of points written like "10,20 30,40|50,60 70,80"."""
    return [points_of(row) for row in text.split("|")]


def places_of(text: str) -> list[Place]:
    """Read places written like "10,20,90,1": x, y, turn, size."""
    places = []
    for words in text.split():
        x, y, turn, size = (float(word) for word in words.split(","))
        places.append(((x, y), turn, size))
    return places


class _Pen:
    """Write steps from point to point, each from where the last one really ended."""

    def __init__(self, start: Point) -> None:
        self.x, self.y = round(start[0], 1), round(start[1], 1)
        self.steps = [f"M{_pair(self.x, self.y)}"]

    def away(self, to: Point) -> str:
        return _pair(to[0] - self.x, to[1] - self.y)

    def move(self, letter: str, to: Point, bend: Point | None = None) -> None:
        bent = f"{self.away(bend)} " if bend else ""
        self.steps.append(f"{letter}{bent}{self.away(to)}")
        self.x = round(self.x + round(to[0] - self.x, 1), 1)
        self.y = round(self.y + round(to[1] - self.y, 1), 1)


def _middle(a: Point, b: Point) -> Point:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def smooth_line(points: Sequence[Point], *rest: Sequence[Point]) -> str:
    """Return the path of a soft line through points; more rows join on with corners."""
    pen = _Pen(points[0])
    for row in (points, *rest):
        if len(row) > 2:
            pen.move("q", _middle(row[1], row[2]), row[1])
            for here, there in zip(row[2:-1], row[3:], strict=True):
                pen.move("t", _middle(here, there))
        pen.move("l", row[-1])
    return "".join(pen.steps)


def smooth_ring(points: Sequence[Point]) -> str:
    """Return the path of a soft closed line around points."""
    first, second = points[0], points[1]
    pen = _Pen(_middle(points[-1], first))
    pen.move("q", _middle(first, second), first)
    for here, there in zip(points[1:], [*points[2:], first], strict=True):
        pen.move("t", _middle(here, there))
    return "".join(pen.steps) + "Z"


def straight_line(points: Sequence[Point]) -> str:
    """Return the path of a line with corners."""
    pen = _Pen(points[0])
    for point in points[1:]:
        pen.move("l", point)
    return "".join(pen.steps)


def drawn(
    path: str,
    fill: Colour | None = None,
    edge: Colour | None = INK,
    line: float | None = None,
) -> Piece:
    """Draw a path; an edge of ink in the usual width needs no words."""
    words = "" if fill is None else f' fill="{colour_text(fill)}"'
    if edge != INK:
        words += f' stroke="{colour_text(edge)}"'
    if line is not None and edge is not None:
        words += f' stroke-width="{number(line)}"'
    return f'<path d="{path}"{words}/>'


def blob(
    points: Sequence[Point],
    fill: Colour | None,
    edge: Colour | None = INK,
    line: float | None = None,
) -> Piece:
    """Fill a soft closed shape."""
    return drawn(smooth_ring(points), fill, edge, line)


def shape(
    points: Sequence[Point],
    fill: Colour | None,
    edge: Colour | None = INK,
    line: float | None = None,
) -> Piece:
    """Fill a closed shape with corners."""
    return drawn(straight_line(points) + "Z", fill, edge, line)


def stroke(
    points: Sequence[Point], colour: Colour = INK, line: float | None = None
) -> Piece:
    """Draw a soft line through points."""
    return drawn(smooth_line(points), None, colour, line)


def strokes(
    rows: Iterable[Sequence[Point]], colour: Colour = INK, line: float | None = None
) -> Piece:
    """Draw several soft lines alike."""
    return drawn("".join(smooth_line(row) for row in rows), None, colour, line)


def disc(
    centre: Point,
    radius: float,
    fill: Colour | None,
    edge: Colour | None = INK,
    line: float | None = None,
    flat: float = 1.0,
) -> Piece:
    """Draw a circle, or an ellipse when `flat` is not one."""
    x, y = (number(part) for part in centre)
    words = "" if fill is None else f' fill="{colour_text(fill)}"'
    if edge != INK:
        words += f' stroke="{colour_text(edge)}"'
    if line is not None and edge is not None:
        words += f' stroke-width="{number(line)}"'
    if flat == 1.0:
        return f'<circle cx="{x}" cy="{y}" r="{number(radius)}"{words}/>'
    across, high = number(radius), number(radius * flat)
    return f'<ellipse cx="{x}" cy="{y}" rx="{across}" ry="{high}"{words}/>'


def dots(points: Iterable[Point], across: float, colour: Colour) -> Piece:
    """Draw round dots of one size, each a line that goes nowhere with round ends."""
    path = "".join(f"M{_pair(*point)}h0" for point in points)
    return drawn(path, None, colour, across)


def ringed(points: Sequence[Point], *rings: tuple[float, Colour]) -> Piece:
    """Draw spots made of rings, the widest first."""
    return "".join(dots(points, across, colour) for across, colour in rings)


def placed(
    piece: Piece, at: Point, turn: float = 0.0, size: float = 1.0, line: float = 1.2
) -> Piece:
    """Put a piece drawn around nought in its place; its ink keeps its width."""
    words = f"translate({_pair(*at)})"
    if turn:
        words += f"rotate({number(turn)})"
    if size != 1.0:
        words += f"scale({size:.2f})"
    return f'<g transform="{words}" stroke-width="{line / size:.2f}">{piece}</g>'


def repeated(name: str, piece: Piece, places: Iterable[Place]) -> Piece:
    """Draw a piece once and show it in many places, each with its turn and size."""
    uses = "".join(
        f'<use href="#{name}" transform="translate({_pair(*at)})'
        f'rotate({number(turn)})scale({size:.2g})"/>'
        for at, turn, size in places
    )
    return f'<defs><g id="{name}">{piece}</g></defs>{uses}'


def inside(name: str, path: str, fill: Colour, pieces: Iterable[Piece]) -> Piece:
    """Fill a shape, draw pieces on it that end at its edge, and ink the edge."""
    return (
        f'<defs><path id="{name}" d="{path}"/><clipPath id="{name}c">'
        f'<use href="#{name}"/></clipPath></defs>'
        f'<use href="#{name}" fill="{colour_text(fill)}" stroke="none"/>'
        f'<g clip-path="url(#{name}c)">{"".join(pieces)}</g><use href="#{name}"/>'
    )
