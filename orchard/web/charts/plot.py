"""Charts: axes, lines, bars and areas placed in a picture, ready to be drawn."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.utils.formats import number_format

from orchard.records.models import Orchard
from orchard.science.units import shown
from orchard.web.charts.drawings import Axis, Dot, Tick

# Narrow enough to be read on the smallest phone; a desk shows it larger.
WIDTH, HEIGHT = 340, 250
LEFT, RIGHT, TOP, BOTTOM = 44, 330, 24, 208
# A letter is about so wide, and somewhat higher, where the picture is smallest.
LETTER = 7.0


@dataclass(frozen=True, slots=True)
class Series:
    """A line through points, its look, and the words at its end."""

    points: str
    look: str = "series"
    label: str = ""
    x: float = 0.0
    y: float = 0.0
    anchor: str = "end"


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar standing on the axis."""

    x: float
    y: float
    width: float
    height: float
    look: str = "bar"


@dataclass(frozen=True, slots=True)
class Area:
    """A filled shape."""

    points: str
    look: str = "band"


@dataclass(frozen=True, slots=True)
class Goal:
    """A level line across the picture, and its words at one of its ends."""

    y: float
    text: str
    text_y: float
    text_x: float
    anchor: str


@dataclass(frozen=True, slots=True)
class Chart:
    """A picture of figures, with its title and a sentence that sums it up."""

    key: str
    title: str
    summary: str
    x_axis: str
    y_axis: str
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    lines: tuple[Series, ...] = ()
    bars: tuple[Bar, ...] = ()
    areas: tuple[Area, ...] = ()
    goals: tuple[Goal, ...] = ()
    dots: tuple[Dot, ...] = ()
    legend: tuple[tuple[str, str], ...] = ()
    width: int = field(default=WIDTH)
    height: int = field(default=HEIGHT)
    left: int = field(default=LEFT)
    right: int = field(default=RIGHT)
    top: int = field(default=TOP)
    bottom: int = field(default=BOTTOM)


def x_scale(low: float, high: float) -> Axis:
    """Return the axis from left to right."""
    return Axis(low, high, LEFT, RIGHT)


def y_scale(low: float, high: float) -> Axis:
    """Return the axis from bottom to top."""
    return Axis(low, high, BOTTOM, TOP)


def round_steps(low: float, high: float, *, most: int = 5) -> list[float]:
    """Return round values that span from low to high, at most so many and one more."""
    span = max(high - low, 1e-9)
    rough = span / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(
        power * factor for factor in (1, 2, 5, 10) if power * factor >= rough * 0.999
    )
    first = math.floor(low / step + 1e-9)
    last = math.ceil(high / step - 1e-9)
    return [round(number * step, 6) for number in range(first, last + 1)]


def value_ticks(axis: Axis, steps: Iterable[float]) -> tuple[Tick, ...]:
    """Return the ticks of an upright axis."""
    return tuple(Tick(axis.at(step), f"{step:g}") for step in steps)


def polyline_points(points: Iterable[tuple[float, float]], x: Axis, y: Axis) -> str:
    """Return points as a line is drawn through them."""
    return " ".join(f"{x.at(left)},{y.at(level)}" for left, level in points)


def area_points(points: Sequence[tuple[float, float]], x: Axis, y: Axis) -> str:
    """Return the shape between a line and the bottom of the picture."""
    if not points:
        return ""
    first, last = x.at(points[0][0]), x.at(points[-1][0])
    return f"{first},{BOTTOM} {polyline_points(points, x, y)} {last},{BOTTOM}"


def value_bar(x: float, width: float, value: float, y: Axis, look: str = "bar") -> Bar:
    """Return a bar of a value, its middle at x, standing on the axis's low end."""
    top = y.at(value)
    return Bar(
        round(x - width / 2, 1), top, round(width, 1), round(BOTTOM - top, 1), look
    )


def spread_labels(
    goals: Iterable[tuple[float, str]],
    y: Axis,
    lines: Iterable[Series] = (),
    *,
    least: float = 15.0,
) -> tuple[Goal, ...]:
    """Return level lines, highest first, their words clear of each other and of lines.

    Words stand at the left, or at the right where a drawn line leaves them more room.
    """
    drawn = [_places(line) for line in lines]
    placed: list[Goal] = []
    for value, text in sorted(goals, reverse=True):
        at = y.at(value)
        half = min(len(text) * LETTER, (RIGHT - LEFT) / 2)
        by_left = _room(drawn, at - 4, LEFT, LEFT + half)
        by_right = _room(drawn, at - 4, RIGHT - half, RIGHT)
        left = by_left >= LETTER * 2 or by_left >= by_right
        anchor, text_x = ("start", LEFT + 5) if left else ("end", RIGHT - 5)
        text_y = at - 4
        above = [goal.text_y for goal in placed if goal.anchor == anchor]
        if above and text_y < above[-1] + least:
            text_y = above[-1] + least
        placed.append(Goal(at, text, round(text_y, 1), text_x, anchor))
    return tuple(placed)


def _places(line: Series) -> list[tuple[float, float]]:
    """Return places along a line, close enough that no word slips between them."""
    pairs = [point.split(",") for point in line.points.split()]
    ends = [(float(x), float(y)) for x, y in pairs]
    places = ends[:1]
    for (left, low), (right, high) in zip(ends, ends[1:], strict=False):
        steps = max(1, round(math.hypot(right - left, high - low) / LETTER))
        places += [
            (left + (right - left) * n / steps, low + (high - low) * n / steps)
            for n in range(1, steps + 1)
        ]
    return places


def _room(
    lines: Sequence[Sequence[tuple[float, float]]], y: float, left: float, right: float
) -> float:
    """Return how far the nearest line passes from words that stand at y."""
    middle = y - LETTER / 2
    gaps = [
        abs(height - middle)
        for points in lines
        for x, height in points
        if left <= x <= right
    ]
    return min(gaps, default=math.inf)


def with_unit(value: float, unit: str, orchard: Orchard, digits: int = 0) -> str:
    """Write a value with its unit, in the orchard's own units."""
    figure, unit = shown(value, unit, orchard.units)
    return f"{number_format(round(figure, digits), decimal_pos=digits)} {unit}"
