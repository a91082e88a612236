"""Motifs at the foot of a tree."""

from __future__ import annotations

from random import Random

from orchard.demonstration.brush import (
    BARK,
    BROWN,
    DARK_BARK,
    DARK_LEAF,
    EARTH,
    HEIGHT,
    INK,
    MULCH,
    PAPER,
    SKY,
    SOFT_LEAF,
    STRAW,
    WHITE,
    WIDTH,
    Canvas,
    Colour,
    Point,
    along,
    mixed,
    sheet,
    shoot,
    trunk,
)


def _base(dice: Random, *, graft: float = 330, fill: Colour = BARK) -> Canvas:
    page = sheet(dice, sky=mixed(SKY, PAPER, dice.uniform(0.2, 0.6)), ground=MULCH)
    for _chip in range(150):
        spot = (dice.uniform(0, WIDTH), dice.uniform(835, HEIGHT))
        turn = dice.uniform(-30, 30)
        page.stroke([spot, along(spot, dice.uniform(18, 46), turn)],
                    mixed(MULCH, dice.choice((INK, STRAW)), 0.35), 6)  # fmt: skip
    trunk(page, (720, 862), 900, 250, graft=graft, fill=fill)
    level = 862 - graft
    page.stroke([(600, level + 14), (690, level - 6), (770, level + 8),
                 (842, level - 12)],
                mixed(fill, INK, 0.6), 7)  # fmt: skip
    return page


def sucker(dice: Random) -> Canvas:
    page = _base(dice)
    shoot(page, (820, 760), 620, -58 + dice.uniform(-6, 6), SOFT_LEAF, leaves=8,
          size=170,
          line=14, threes=True)  # fmt: skip
    stem = shoot(page, (628, 790), 430, -118, SOFT_LEAF, leaves=6, size=140, line=11,
                 threes=True)  # fmt: skip
    for number in range(4, 19, 4):
        page.stroke([stem[number], along(stem[number], 46, -170)], DARK_LEAF, 4)
    return page


def sucker_gone(dice: Random) -> Canvas:
    page = _base(dice)
    for spot in ((818, 752), (640, 788)):
        page.disc(spot, 24, STRAW, INK, 3, flat=1.3)
        page.disc(spot, 11, mixed(STRAW, BROWN, 0.4), None, flat=1.3)
    return page


def trimmer_wound(dice: Random) -> Canvas:
    page = _base(dice)
    wound: list[Point] = [(628, 770), (668, 735), (748, 742), (806, 718), (826, 764),
                          (790, 806), (716, 792), (662, 815)]  # fmt: skip
    page.shape(wound, (226, 196, 150), DARK_BARK, 6)
    for number in range(7):
        x = 655 + number * 24
        page.stroke([(x, 752 + dice.uniform(0, 18)), (x + 20, 782)], BROWN, 4)
    return page


def buried(dice: Random) -> Canvas:
    page = _base(dice, graft=150)
    heap: list[Point] = [(330, 880), (470, 742), (610, 672), (820, 668), (960, 735),
                         (1110, 880)]  # fmt: skip
    page.shape(heap, mixed(MULCH, EARTH, 0.3), INK, 4)
    for _chip in range(110):
        x = dice.uniform(420, 1020)
        top = 690 + abs(x - 720) * 0.5
        spot = (x, dice.uniform(min(top, 860), 872))
        page.stroke([spot, along(spot, 32, dice.uniform(-40, 40))],
                    mixed(MULCH, dice.choice((INK, STRAW)), 0.4), 5)  # fmt: skip
    return page


def painted(dice: Random) -> Canvas:
    page = _base(dice, fill=WHITE)
    for _run in range(16):
        x = 720 + dice.uniform(-100, 100)
        y = dice.uniform(150, 700)
        page.stroke([(x, y), (x, y + dice.uniform(40, 130))], (222, 222, 212), 8)
    page.shape(
        [(1010, 872), (1032, 690), (1210, 690), (1232, 872)], (196, 202, 204), INK, 4
    )
    page.disc((1121, 692), 90, WHITE, INK, 4, flat=0.24)
    page.stroke([(1118, 690), (1216, 540)], (170, 124, 74), 20)
    return page


def snails(dice: Random) -> Canvas:
    page = _base(dice)
    for spot in ((650, 600), (770, 480), (700, 730), (790, 690)):
        x, y = spot
        page.shape([(x - 54, y + 30), (x + 60, y + 34), (x + 76, y + 8),
                    (x + 44, y + 14),
                    (x - 20, y + 8)], (196, 178, 140), INK, 3)  # fmt: skip
        page.disc((x - 8, y - 10), 42, (186, 140, 86), INK, 4)
        curl = [
            along((x - 8, y - 10), 36 - step, step * 24) for step in range(0, 34, 2)
        ]
        page.stroke(curl, DARK_BARK, 4)
        page.stroke([(x + 70, y + 10), (x + 88, y - 18)], INK, 3)
    return page
