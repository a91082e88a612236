"""Motifs of leaves and shoots."""

from __future__ import annotations

from math import pi, sin
from random import Random

from orchard.demonstration.brush import (
    BROWN,
    DARK_BARK,
    DARK_LEAF,
    INK,
    LEAF,
    PAPER,
    SKY,
    SOFT_LEAF,
    STRAW,
    WHITE,
    YELLOW,
    Canvas,
    Colour,
    Point,
    along,
    leaf,
    mixed,
    sheet,
    shoot,
)


def _twig_and_leaf(
    dice: Random,
    fill: Colour,
    *,
    other: Colour | None = None,
    veins: Colour | None = None,
) -> tuple[Canvas, list[Point]]:
    page = sheet(dice, sky=mixed(PAPER, SKY, dice.uniform(0.1, 0.5)))
    page.stroke([(-20, 930), (200, 862), (330, 850)], DARK_BARK, 22)
    leaf(
        page,
        (170, 880),
        330,
        130,
        62 + dice.uniform(-6, 6),
        mixed(fill, DARK_LEAF, 0.5),
    )
    leaf(
        page,
        (90, 900),
        330,
        140,
        -98 + dice.uniform(-6, 6),
        mixed(fill, DARK_LEAF, 0.4),
    )
    middle = leaf(
        page, (310, 850), 1040, 470, -31 + dice.uniform(-3, 3), fill,
        other_half=other, veins=veins, bend=dice.uniform(-30, 30),
    )  # fmt: skip
    return page, middle


def _beside(middle: list[Point], place: float, off: float) -> Point:
    """Return a point beside the midrib: so far along it, so far to its side."""
    number = min(23, int(place * 24))
    here, there = middle[number], middle[number + 1]
    run = (there[0] - here[0], there[1] - here[1])
    long = (run[0] ** 2 + run[1] ** 2) ** 0.5 or 1
    part = place * 24 - number
    return (
        here[0] + part * run[0] - run[1] / long * off,
        here[1] + part * run[1] + run[0] / long * off,
    )


def _half(place: float) -> float:
    """Return half the width of the large leaf so far along it."""
    return 235 * sin(pi * min(1.0, place) ** 0.85) ** 0.8 if 0 < place < 1 else 0.0


def leafminer(dice: Random) -> Canvas:
    page, middle = _twig_and_leaf(dice, SOFT_LEAF)
    for side, phase in ((1, 0.0), (-1, 1.4)):
        trail = []
        for step in range(90):
            part = step / 89
            off = (
                side
                * (60 + 62 * sin(part * 21 + phase))
                * sin(pi * (0.12 + 0.8 * part))
            )
            trail.append(_beside(middle, 0.2 + 0.62 * part, off))
        for number in range(3, 90):
            width = 6 + number / 7
            page.stroke(trail[number - 3 : number + 1], (232, 238, 226), width)
        page.stroke(trail, mixed(INK, LEAF, 0.3), 2.5)
    return page


def winter_yellow(dice: Random) -> Canvas:
    page, _middle = _twig_and_leaf(dice, YELLOW, veins=mixed(YELLOW, WHITE, 0.35))
    return page


def iron_young(dice: Random) -> Canvas:
    page, middle = _twig_and_leaf(dice, STRAW, veins=LEAF)
    for number in range(2, 23):
        for side in (-1, 1):
            wide = 205 * sin(pi * (number / 24) ** 0.85) ** 0.8
            page.stroke(
                [
                    _beside(middle, number / 24, 0),
                    _beside(middle, min(0.97, number / 24 + 0.07), side * wide * 0.9),
                ],
                LEAF,
                2.5,
            )
    return page


def mottle(dice: Random) -> Canvas:
    page, middle = _twig_and_leaf(dice, LEAF, veins=STRAW)
    for _blotch in range(17):
        place = dice.uniform(0.14, 0.86)
        wide = 175 * sin(pi * place**0.85)
        side = dice.choice((-1, -1, -1, 1))
        spot = _beside(middle, place, side * dice.uniform(0.2, 0.8) * wide)
        page.disc(
            spot, dice.uniform(20, 52), dice.choice((YELLOW, STRAW)), None, flat=0.7
        )
    page.stroke(middle, STRAW, 12)
    return page


def sticky(dice: Random) -> Canvas:
    page, middle = _twig_and_leaf(dice, DARK_LEAF, veins=LEAF)
    for _scale in range(22):
        spot = _beside(middle, dice.uniform(0.08, 0.9), dice.gauss(0, 34))
        tone = dice.choice((BROWN, (176, 128, 74)))
        page.disc(spot, dice.uniform(15, 24), tone, INK, 2,
                  flat=0.72)  # fmt: skip
        page.disc((spot[0] - 5, spot[1] - 5), 5, (214, 172, 120), None)
    for number in range(9):
        spot = (60 + number * 38, 912 - number * 9 + dice.uniform(-5, 5))
        for more in (-11, 0, 11):
            page.disc((spot[0] + more, spot[1]), 6, INK, None)
    return page


def salt_tips(dice: Random) -> Canvas:
    page, middle = _twig_and_leaf(dice, LEAF)
    rows = [0.7 + 0.3 * step / 14 for step in range(15)]
    left = [_beside(middle, row, -_half(row)) for row in rows]
    right = [_beside(middle, row, _half(row)) for row in rows]
    page.shape([*left, *reversed(right)], mixed(BROWN, YELLOW, 0.5), None)
    inner = [_beside(middle, 0.78 + 0.22 * step / 9, 0) for step in range(10)]
    page.shape(
        [
            *(_beside(middle, 0.78 + 0.22 * step / 9,
                      -_half(0.78 + 0.22 * step / 9)) for step in range(10)),
            *reversed([_beside(middle, 0.78 + 0.22 * step / 9,
                               _half(0.78 + 0.22 * step / 9)) for step in range(10)]),
        ],
        BROWN, None,
    )  # fmt: skip
    page.stroke(inner, DARK_BARK, 8)
    page.stroke([*left, *reversed(right)], INK, 6)
    return page


def aphids(dice: Random) -> Canvas:
    page = sheet(dice, sky=mixed(PAPER, SKY, 0.4))
    stem = shoot(page, (240, 1010), 1180, -52, SOFT_LEAF, leaves=9, size=330, line=20)
    for _insect in range(120):
        place = dice.randint(6, 20)
        x, y = stem[place]
        spot = (x + dice.gauss(0, 26), y + dice.gauss(0, 26))
        size = dice.uniform(8, 14)
        tone = dice.choice(((60, 74, 44), (92, 116, 52), (44, 44, 40)))
        page.disc(spot, size, tone, INK, 1, flat=0.78)
        for turn in (150, 210, 250, 290):
            page.stroke([spot, along(spot, size * 1.5, turn)], INK, 1)
    for _bead in range(7):
        x, y = stem[dice.randint(5, 15)]
        page.disc((x + dice.uniform(-90, 90), y + dice.uniform(20, 90)), 7,
                  (248, 240, 200), mixed(YELLOW, INK, 0.3), 1)  # fmt: skip
    return page


def frost_leaf(dice: Random) -> Canvas:
    page = sheet(dice, sky=mixed(PAPER, SKY, 0.9))
    for turn, tone in (
        (-84, BROWN),
        (-58, (120, 84, 56)),
        (-34, mixed(BROWN, LEAF, 0.4)),
    ):
        shoot(page, (300 + turn, 1080), 960, turn, tone, leaves=8, size=250, line=14)
    for _crystal in range(260):
        spot = (dice.uniform(90, 1300), dice.uniform(120, 960))
        page.disc(spot, dice.uniform(2, 5), WHITE, None)
    return page
