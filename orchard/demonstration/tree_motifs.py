"""Motifs of fruit, flowers and whole trees."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from orchard.demonstration.brush import (
    BROWN,
    DARK_BARK,
    DARK_LEAF,
    EARTH,
    GREEN_FRUIT,
    HEIGHT,
    INK,
    LEAF,
    MULCH,
    ORANGE,
    PAPER,
    SKY,
    SOFT_LEAF,
    STRAW,
    TERRACOTTA,
    WHITE,
    WIDTH,
    YELLOW,
    Canvas,
    Colour,
    Point,
    along,
    crown,
    fruit,
    leaf,
    mixed,
    sheet,
    shoot,
    trunk,
)

Motif = Callable[[Random], Canvas]


def fruit_split(dice: Random) -> Canvas:
    page = sheet(dice, sky=mixed(PAPER, SKY, 0.3))
    for turn in (-160, -118, -62, -24):
        leaf(page, (720, 250), 420, 165, turn + dice.uniform(-8, 8), DARK_LEAF)
    page.stroke([(720, -20), (712, 220)], DARK_BARK, 20)
    fruit(page, (720, 620), 370, ORANGE)
    gap: list[Point] = [(700, 330), (752, 470), (742, 620), (790, 800), (760, 950),
                        (700, 840), (668, 640), (690, 480)]  # fmt: skip
    page.shape(gap, (250, 214, 130), INK, 4)
    page.shape([(708, 420), (738, 500), (728, 640), (752, 800), (734, 890), (704, 780),
                (692, 620)], (244, 176, 66), None)  # fmt: skip
    return page


def fruit_drop(dice: Random) -> Canvas:
    page = sheet(dice, sky=EARTH)
    for _chip in range(420):
        spot = (dice.uniform(-20, WIDTH), dice.uniform(-20, HEIGHT))
        tone = mixed(MULCH, dice.choice((INK, STRAW, EARTH)), 0.4)
        page.stroke(
            [spot, along(spot, dice.uniform(24, 70), dice.uniform(0, 180))], tone, 9
        )
    for _fruitlet in range(34):
        spot = (dice.uniform(80, WIDTH - 80), dice.uniform(80, HEIGHT - 80))
        fruit(
            page,
            spot,
            dice.uniform(22, 46),
            dice.choice((GREEN_FRUIT, SOFT_LEAF, YELLOW)),
        )
    for _leaf in range(4):
        spot = (dice.uniform(100, 1100), dice.uniform(150, 900))
        leaf(page, spot, 190, 74, dice.uniform(0, 360), dice.choice((YELLOW, BROWN)))
    return page


def overripe(dice: Random) -> Canvas:
    page = sheet(dice, sky=SKY, ground=mixed(LEAF, EARTH, 0.4))
    crown(page, (720, 150), 420, DARK_LEAF, leaves=360)
    for _hanging in range(9):
        fruit(page, (dice.uniform(380, 1060), dice.uniform(150, 480)), 44, ORANGE)
    for _fallen in range(13):
        spot = (dice.uniform(180, 1260), dice.uniform(850, 1010))
        page.disc(
            (spot[0] + 6, spot[1] + 30), 46, mixed(EARTH, INK, 0.4), None, flat=0.3
        )
        fruit(
            page, spot, dice.uniform(36, 48), mixed(ORANGE, BROWN, dice.random() * 0.5)
        )
    return page


def potted(dice: Random) -> Canvas:
    page = sheet(dice, sky=SKY, ground=(206, 196, 176))
    trunk(page, (720, 700), 240, 46)
    crown(page, (720, 330), 250, LEAF, leaves=300)
    page.shape([(520, 670), (920, 670), (866, 1000), (574, 1000)], TERRACOTTA, INK, 5)
    page.shape([(496, 640), (944, 640), (936, 712), (504, 712)],
               mixed(TERRACOTTA, WHITE, 0.12), INK, 5)  # fmt: skip
    for _fruit in range(8):
        spot = along((720, 340), dice.uniform(30, 200), dice.uniform(0, 360))
        fruit(page, spot, 24, ORANGE)
    return page


def bloom(dice: Random) -> Canvas:
    page = sheet(dice, sky=mixed(SKY, PAPER, 0.4))
    stem = shoot(page, (120, 960), 1400, -36, DARK_LEAF, leaves=9, size=320, line=18)
    for number in (5, 8, 11, 14, 17, 20):
        x, y = stem[number]
        spot = (x + dice.uniform(-30, 30), y - dice.uniform(20, 80))
        start = dice.uniform(0, 72)
        for petal in range(5):
            leaf(page, spot, 104, 58, start + petal * 72, WHITE, veins=(226, 226, 214),
                 side_veins=False)  # fmt: skip
        for thread in range(14):
            end = along(spot, dice.uniform(16, 30), thread * 26)
            page.stroke([spot, end], (224, 202, 120), 3)
            page.disc(end, 5, (240, 190, 60), None)
    return page


GRASS: Colour = (150, 172, 104)
DRY: Colour = (206, 190, 136)


def portrait(leaves: Colour, ground: Colour, sky: Colour, dots: str) -> Motif:
    """Return the motif of a whole tree in one season."""

    def draw(dice: Random) -> Canvas:
        page = sheet(dice, sky=sky, ground=ground)
        page.shape([(-10, 790), (-10, 560), (WIDTH + 10, 540), (WIDTH + 10, 790)],
                   mixed(sky, EARTH, 0.35), None)  # fmt: skip
        for row in range(3):
            y = 600 + row * 64
            page.stroke([(0, y), (WIDTH, y - 18)], mixed(EARTH, INK, 0.25), 3)
        page.disc((730, 872), 300, mixed(ground, INK, 0.3), None, flat=0.14)
        trunk(page, (720, 872), 330, 86, graft=70)
        crown(page, (720, 400), 335, leaves, leaves=620)
        for _dot in range({"fruit": 34, "green": 30, "bloom": 90}.get(dots, 0)):
            spot = along((720, 410), 310 * dice.random() ** 0.5, dice.uniform(0, 360))
            if dots == "bloom":
                for petal in range(5):
                    page.disc(along(spot, 6, petal * 72), 6, WHITE, None)
            else:
                fruit(page, spot, 23, ORANGE if dots == "fruit" else GREEN_FRUIT)
        page.shape([(1010, 880), (1010, 740), (1100, 740), (1100, 880)], WHITE, INK, 4)
        for row in range(3):
            page.stroke([(1026, 770 + row * 26), (1084, 770 + row * 26)],
                        mixed(INK, WHITE, 0.4), 5)  # fmt: skip
        return page

    return draw
