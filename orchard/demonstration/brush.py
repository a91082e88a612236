"""The brush: leaves, fruit, wood and paper, drawn with ink and a few flat colours.

Everything is drawn at twice the size of the picture and then reduced, which makes the
edges soft.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from math import cos, pi, radians, sin
from random import Random

from PIL import Image, ImageDraw, ImageFilter

# The sheet that the motifs are drawn on, and how many pixels are drawn for each unit.
WIDTH, HEIGHT = 1440, 1080
REDUCED = 2
# The picture is narrower than the middle size of a photo, so it is kept as it is.
FINE = 800 * REDUCED / WIDTH
Point = tuple[float, float]
Colour = tuple[int, int, int]

PAPER: Colour = (247, 242, 229)
INK: Colour = (38, 50, 41)
LEAF: Colour = (78, 122, 66)
DARK_LEAF: Colour = (52, 94, 54)
SOFT_LEAF: Colour = (150, 188, 92)
YELLOW: Colour = (222, 200, 92)
STRAW: Colour = (236, 224, 160)
ORANGE: Colour = (232, 140, 44)
GREEN_FRUIT: Colour = (126, 156, 70)
BARK: Colour = (138, 112, 86)
DARK_BARK: Colour = (98, 76, 58)
EARTH: Colour = (158, 130, 98)
MULCH: Colour = (124, 94, 66)
WHITE: Colour = (252, 251, 246)
SKY: Colour = (222, 233, 230)
TERRACOTTA: Colour = (190, 104, 70)
BROWN: Colour = (140, 92, 52)


def mixed(start: Colour, end: Colour, share: float) -> Colour:
    """Return a colour between two others."""
    first, second, third = (
        round(a + (b - a) * share) for a, b in zip(start, end, strict=True)
    )
    return first, second, third


# Of a leaf from foot to tip: how far, how much of its width, and of its bend.
LEAF_STEPS = tuple(
    (part, sin(pi * part**0.85) ** 0.8 if 0 < part < 1 else 0.0, sin(pi * part))
    for part in (step / 24 for step in range(25))
)


@dataclass(slots=True)
class Canvas:
    """A sheet of paper to draw on, in the coordinates of the finished picture."""

    image: Image.Image
    dice: Random
    pen: ImageDraw.ImageDraw = field(init=False)

    def __post_init__(self) -> None:
        self.pen = ImageDraw.Draw(self.image)

    def shape(
        self,
        points: list[Point],
        fill: Colour,
        edge: Colour | None = INK,
        line: int = 3,
    ) -> None:
        """Fill a closed shape, with an ink line around it."""
        fine = [(x * FINE, y * FINE) for x, y in points]
        self.pen.polygon(fine, fill=fill)
        if edge is not None:
            self.pen.line(
                [*fine, fine[0]], fill=edge, width=round(line * FINE), joint="curve"
            )

    def stroke(
        self, points: list[Point], colour: Colour = INK, line: float = 3
    ) -> None:
        """Draw a line through points."""
        fine = [(x * FINE, y * FINE) for x, y in points]
        self.pen.line(
            fine, fill=colour, width=max(1, round(line * FINE)), joint="curve"
        )

    def disc(
        self,
        centre: Point,
        radius: float,
        fill: Colour,
        edge: Colour | None = INK,
        line: int = 3,
        flat: float = 1.0,
    ) -> None:
        """Draw a filled circle, or an ellipse when `flat` is not one."""
        x, y = centre
        box = [
            (x - radius) * FINE,
            (y - radius * flat) * FINE,
            (x + radius) * FINE,
            (y + radius * flat) * FINE,
        ]
        self.pen.ellipse(
            box, fill=fill, outline=edge, width=round(line * FINE) if edge else 0
        )


def sheet(dice: Random, *, sky: Colour = PAPER, ground: Colour | None = None) -> Canvas:
    """Return an empty sheet: paper, or sky above a ground line."""
    size = round(WIDTH * FINE), round(HEIGHT * FINE)
    image = Image.new("RGB", size, sky)
    page = Canvas(image, dice)
    if ground is not None:
        edge: list[Point] = [
            (x, 800 + 12 * sin(x / 170) + dice.uniform(-3, 3))
            for x in range(-20, WIDTH + 41, 40)
        ]
        page.shape([*edge, (WIDTH + 20, HEIGHT + 9), (-20, HEIGHT + 9)], ground, None)
        page.stroke(edge, mixed(ground, INK, 0.5), 3)
    return page


def finished(page: Canvas) -> Image.Image:
    """Return the picture of a sheet, with the grain and the shade of paper."""
    image = page.image.reduce(REDUCED)
    return Image.composite(
        image, Image.new("RGB", image.size, INK), _paper(*image.size)
    )


@lru_cache(maxsize=1)
def _paper(width: int, height: int) -> Image.Image:
    """Return how much of the drawing shows: grain, and a little shade at the rim."""
    dice = Random(3)
    size = (width // 2, height // 2)
    noise = Image.frombytes("L", size, dice.randbytes(size[0] * size[1]))
    grain = noise.filter(ImageFilter.GaussianBlur(0.6)).resize((width, height))
    grain = grain.point(lambda value: 240 + value // 18)
    rim = Image.new("L", (width // 8, height // 8), 0)
    ImageDraw.Draw(rim).rectangle([4, 4, width // 8 - 5, height // 8 - 5], fill=255)
    rim = rim.filter(ImageFilter.GaussianBlur(6)).resize((width, height))
    rim = rim.point(lambda value: 226 + value * 29 // 255)
    return Image.blend(grain, rim, 0.5)


def along(start: Point, length: float, angle: float) -> Point:
    """Return the point so far away in a direction, in degrees; up is -90."""
    turn = radians(angle)
    return start[0] + length * cos(turn), start[1] + length * sin(turn)


def leaf_outline(
    foot: Point,
    length: float,
    width: float,
    angle: float,
    *,
    bend: float = 0.0,
    every: int = 1,
) -> tuple[list[Point], list[Point]]:
    """Return a leaf's two edges, from foot to tip; a small one takes fewer points."""
    turn = radians(angle)
    ahead, aside = cos(turn), sin(turn)
    left: list[Point] = []
    right: list[Point] = []
    for part, wide, bent in LEAF_STEPS[::every]:
        half, middle, x = width / 2 * wide, bend * bent, part * length
        for edge, side in ((left, -half), (right, half)):
            y = middle + side
            edge.append(
                (foot[0] + x * ahead - y * aside, foot[1] + x * aside + y * ahead)
            )
    return left, right


def leaf(
    page: Canvas,
    foot: Point,
    length: float,
    width: float,
    angle: float,
    fill: Colour,
    *,
    veins: Colour | None = None,
    other_half: Colour | None = None,
    bend: float = 0.0,
    side_veins: bool = True,
) -> list[Point]:
    """Draw a leaf and return its midrib, from foot to tip."""
    left, right = leaf_outline(foot, length, width, angle, bend=bend)
    middle = [
        ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in zip(left, right, strict=True)
    ]
    thin = max(1, round(length / 160))
    page.shape([*left, *reversed(right)], fill, None)
    if other_half is not None:
        page.shape([*middle, *reversed(right)], other_half, None)
    colour = veins or mixed(fill, INK, 0.35)
    if side_veins and length > 90:
        for place in range(3, 22, 3):
            for edge in (left, right):
                tip = edge[min(place + 3, 24)]
                foot_ = middle[place]
                end = (
                    foot_[0] + (tip[0] - foot_[0]) * 0.86,
                    foot_[1] + (tip[1] - foot_[1]) * 0.86,
                )
                page.stroke([foot_, end], colour, max(1, length / 260))
    page.stroke(middle, colour, max(1.5, length / 110))
    page.stroke([*left, *reversed(right), left[0]], INK, thin)
    return middle


def fruit(page: Canvas, centre: Point, radius: float, fill: Colour) -> None:
    """Draw a round fruit with a lit side."""
    page.disc(centre, radius, mixed(fill, INK, 0.14), INK, max(2, round(radius / 28)))
    lit = (centre[0] - radius * 0.14, centre[1] - radius * 0.14)
    page.disc(lit, radius * 0.8, fill, None)
    shine = (centre[0] - radius * 0.32, centre[1] - radius * 0.36)
    page.disc(shine, radius * 0.3, mixed(fill, WHITE, 0.3), None)
    for _pore in range(round(radius / 3)):
        away, turn = page.dice.uniform(0, radius * 0.85), page.dice.uniform(0, 360)
        page.disc(along(centre, away, turn), max(1, radius / 60),
                  mixed(fill, INK, 0.25), None)  # fmt: skip
    stem = (centre[0] + radius * 0.1, centre[1] - radius * 0.92)
    page.disc(stem, radius * 0.11, DARK_LEAF, INK, 2)


def trunk_edges(
    foot: Point,
    height: float,
    width: float,
    *,
    graft: float | None = None,
    sway: float = 5.0,
) -> tuple[list[Point], list[Point]]:
    """Return a trunk's two edges, from its flare to its top."""
    left, right = [], []
    for step in range(21):
        part = step / 20
        half = width / 2 * (1 + 0.55 * (1 - part) ** 4)
        if graft is not None and part * height > graft:
            half *= 0.86
        away = sway * sin(part * 5)
        y = foot[1] - part * height
        left.append((foot[0] - half + away, y))
        right.append((foot[0] + half + away, y))
    return left, right


def trunk(
    page: Canvas,
    foot: Point,
    height: float,
    width: float,
    *,
    fill: Colour = BARK,
    graft: float | None = None,
) -> tuple[list[Point], list[Point]]:
    """Draw a trunk standing on the ground; `graft` is the height of its graft line."""
    left, right = trunk_edges(foot, height, width, graft=graft)
    page.shape([*left, *reversed(right)], fill, INK, 4)
    for _line in range(round(width / 7)):
        x = foot[0] + page.dice.uniform(-0.42, 0.42) * width
        y = foot[1] - page.dice.uniform(0.04, 0.85) * height
        tall = page.dice.uniform(0.04, 0.12) * height
        page.stroke([(x, y), (x + page.dice.uniform(-4, 4), y - tall)],
                    mixed(fill, INK, 0.3), 2)  # fmt: skip
    return left, right


def shoot_stem(foot: Point, length: float, angle: float) -> list[Point]:
    """Return a shoot's slightly bent stem, from foot to tip."""
    return [
        along(foot, length * step / 20, angle + 7 * sin(step / 20 * pi))
        for step in range(21)
    ]


def shoot(
    page: Canvas,
    foot: Point,
    length: float,
    angle: float,
    fill: Colour,
    *,
    leaves: int = 8,
    size: float = 150,
    line: float = 9,
    threes: bool = False,
    spare_tip: bool = False,
) -> list[Point]:
    """Draw a leafy shoot and return its stem, from foot to tip."""
    stem = shoot_stem(foot, length, angle)
    page.stroke(stem, mixed(fill, INK, 0.3), line)
    for number in range(leaves):
        part = (number + 1) / (leaves + 0.5)
        spot = stem[min(20, round(part * 20))]
        if spare_tip and part > 0.72:
            continue
        side = -1 if number % 2 else 1
        turn = angle + side * page.dice.uniform(48, 66)
        long = size * (1.1 - 0.45 * part)
        if threes:
            for more in (-38, 0, 38):
                leaf(page, spot, long * (0.8 if more else 1), long * 0.3, turn + more,
                     fill)  # fmt: skip
        else:
            leaf(page, spot, long, long * 0.42, turn, fill)
    return stem


def crown(
    page: Canvas, centre: Point, radius: float, fill: Colour, *, leaves: int = 420
) -> None:
    """Draw a round crown of leaves, lighter above than below."""
    dark = mixed(fill, INK, 0.35)
    for _cloud in range(26):
        away = page.dice.uniform(0, radius * 0.72)
        spot = along(centre, away, page.dice.uniform(0, 360))
        page.disc(spot, radius * 0.36, dark, None)
    rows = []
    for _leaf in range(leaves):
        away = radius * page.dice.random() ** 0.5 * page.dice.uniform(0.92, 1.06)
        rows.append(along(centre, away, page.dice.uniform(0, 360)))
    for spot in sorted(rows, key=lambda spot: -spot[1]):
        high = (centre[1] + radius - spot[1]) / (2 * radius)
        tone = mixed(dark, mixed(fill, WHITE, 0.14), min(1.0, max(0.0, high + 0.12)))
        size = page.dice.uniform(34, 52)
        turn = page.dice.uniform(10, 170)
        left, right = leaf_outline(spot, size, size * 0.5, turn, every=3)
        page.shape([*left, *reversed(right)], tone, mixed(tone, INK, 0.4), 1)
