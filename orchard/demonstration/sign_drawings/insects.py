"""Signs of insects, mites and snails."""

from __future__ import annotations

from math import sin
from random import Random

from orchard.demonstration.brush import (
    BARK,
    BROWN,
    INK,
    LEAF,
    MULCH,
    ORANGE,
    SOFT_LEAF,
    WHITE,
    YELLOW,
    along,
    mixed,
)
from orchard.demonstration.sign_drawings import animals, marks
from orchard.demonstration.sign_drawings.places import (
    ground,
    limb,
    trunk,
)
from orchard.demonstration.sign_drawings.plants import (
    LEMON,
    PALE_BARK,
    Blade,
    Shoot,
    big_leaf,
    fruit,
    hanging,
    leaves,
    lemon_outline,
    small_leaf,
    stalk,
    twig,
)
from orchard.demonstration.sign_drawings.sheet import (
    Drawing,
    drawing,
    lens,
)
from orchard.demonstration.sign_drawings.strokes import (
    blob,
    disc,
    dots,
    lines_of,
    placed,
    places_of,
    points_of,
    repeated,
    ringed,
    shape,
    stroke,
    strokes,
)


def leafminer() -> Drawing:
    blade = Blade((14, 132), 160, 72, -37, 6)
    trail = []
    for step in range(40):
        part = step / 39
        off = (0.42 + 0.42 * sin(part * 19)) * (1 if part < 0.62 else -1)
        trail.append(blade.at(0.12 + 0.62 * part, off))
    fold = [
        blade.at(*spot)
        for spot in points_of(
            "0.74,-1.1 0.8,-0.6 0.88,-0.35 0.94,-0.4 0.92,-1.3 0.8,-1.5"
        )
    ]
    return drawing(
        "A winding silvery trail with a thin dark line inside a soft leaf; near the "
        "tip the leaf edge is rolled over.",
        75,
        stalk(blade, SOFT_LEAF),
        blade.draw(
            SOFT_LEAF,
            stroke(trail, mixed(LEAF, INK, 0.4), 8.6),
            stroke(trail, (240, 244, 236), 6.6),
            stroke(trail, mixed(LEAF, INK, 0.5), 1.2),
        ),
        blob(fold, mixed(SOFT_LEAF, WHITE, 0.35), INK, 1.6),
    )


def aphids() -> Drawing:
    shoot = Shoot((34, 148), 138, -70)
    dice = Random(6)
    crowd = []
    for _insect in range(34):
        x, y = shoot.at(dice.uniform(0.25, 1))
        crowd.append(
            ((x + dice.gauss(0, 3), y + dice.gauss(0, 3)), dice.uniform(0, 360), 1.0)
        )
    speck = disc((0, 0), 3.2, (58, 66, 44), INK, 0.8, 1.35) + strokes(
        lines_of("-5,-2 5,2|-5,2 5,-2"), INK, 0.7
    )
    curl = small_leaf(46, 22, bend=9)
    return drawing(
        "Soft small dark insects crowd a soft tip with curled leaves; through the "
        "lens one with two little pipes at its tail.",
        30,
        shoot.draw_stem(SOFT_LEAF, 5),
        leaves(
            shoot.leaf_places(
                "0.14,-66,1 0.24,62,1 0.46,-54,0.9 0.9,-34,0.7 0.98,20,0.6"
            ),
            SOFT_LEAF,
            curl,
        ),
        repeated("a", speck, crowd),
        lens(
            (118, 92),
            36,
            3,
            placed(animals.aphid((96, 112, 58)), (0, -2), 20, 2.1, 1.4),
        ),
    )


def aphids_fruit() -> Drawing:
    dice = Random(9)
    blade = Blade((16, 60), 104, 60, -8, 10)
    under = Blade((20, 76), 96, 40, 6, -8)
    crowd = [
        (
            (under.at(dice.uniform(0.2, 0.8), dice.uniform(-0.6, 0.6))),
            dice.uniform(0, 360),
            1.0,
        )
        for _insect in range(24)
    ]
    speck = disc((0, 0), 3, (132, 150, 130), INK, 0.8, 1.4) + strokes(
        lines_of("-5,-2 5,2|-5,2 5,-2"), INK, 0.7
    )
    wool = ringed(
        points_of("24,118 34,112 44,120 54,113 64,121 40,126 54,126 30,126"),
        (13, INK),
        (10.6, WHITE),
    )
    return drawing(
        "Grey mealy aphids crowd under a curled plum leaf; below, white wool on a "
        "wound in apple bark; through the lens one aphid.",
        35,
        twig(points_of("-6,40 16,60 10,84"), BARK, 4),
        blade.draw(mixed(LEAF, SOFT_LEAF, 0.5)),
        under.draw(mixed(SOFT_LEAF, WHITE, 0.3), name="u"),
        repeated("a", speck, crowd),
        limb(points_of("-8,122 60,120 100,134"), 18),
        wool,
        lens(
            (126, 96),
            30,
            3,
            placed(animals.aphid((178, 188, 176)), (0, -2), -20, 1.9, 1.3),
        ),
    )


def thrips_leaf() -> Drawing:
    blade = Blade((10, 122), 150, 44, -40, 4)
    scuffs = []
    for side in (-1, 1):
        scuffs.append(
            [
                blade.at(0.12 + 0.07 * step, side * (0.26 + 0.08 * (step % 2)))
                for step in range(11)
            ]
        )
        scuffs.append(
            [
                blade.at(0.2 + 0.07 * step, side * (0.5 - 0.08 * (step % 2)))
                for step in range(8)
            ]
        )
    larva = (
        blob(
            points_of("-2,-12 2,-12 4,-6 4.5,2 3,9 0,15 -3,9 -4.5,2 -4,-6"),
            (240, 206, 96),
        )
        + animals.legs(9, (-7, -3, 1))
        + animals.feelers(6, -11)
        + strokes(lines_of("-4,-2 4,-2|-4,3 4,3|-3,8 3,8"), (176, 130, 40), 0.8)
        + dots(points_of("-1.6,-10 1.6,-10"), 1.6, INK)
    )
    return drawing(
        "Silver-grey scuff lines on both sides of the midrib of a narrow puckered "
        "leaf; through the lens a pale yellow larva without wings.",
        70,
        stalk(blade, SOFT_LEAF),
        blade.draw(
            SOFT_LEAF,
            strokes(scuffs, (128, 132, 118), 5.4),
            strokes(scuffs, (226, 226, 214), 3.6),
        ),
        lens((122, 104), 32, 1.2, placed(larva, (0, -2), 30, 1.7, 1.4)),
    )


def red_mite() -> Drawing:
    blade = Blade((10, 118), 150, 70, -38, 4)
    dice = Random(3)
    stipple = [
        blade.at(dice.uniform(0.06, 0.96), dice.uniform(-0.95, 0.95))
        for _dot in range(150)
    ]
    egg = disc((-24, 12), 5.4, (176, 44, 36)) + strokes(
        lines_of("-24,7 -24,-5|-24,-4 -30,4|-24,-4 -18,4"), INK, 1
    )
    return drawing(
        "Fine pale dots turn the whole upper side of a leaf silvery, without web; "
        "through the lens a dark red mite and its egg on a stalk.",
        100,
        stalk(blade),
        blade.draw(mixed(LEAF, SOFT_LEAF, 0.2), dots(stipple, 2.4, (222, 226, 208))),
        lens(
            (120, 102),
            34,
            0.9,
            placed(animals.mite((150, 34, 34)), (6, -2), 24, 1.3, 1.3),
            egg,
        ),
    )


def spider_mite() -> Drawing:
    blade = Blade((10, 118), 150, 70, -38, 4)
    bulges = "".join(
        blob(
            [
                blade.at(a + da * 0.09, b + db * 0.32)
                for da, db in points_of("-1,0 -0.5,0.9 0.5,0.8 1,0 0.5,-0.9 -0.5,-0.8")
            ],
            YELLOW,
            mixed(YELLOW, INK, 0.4),
            1.2,
        )
        for a, b in points_of("0.3,-0.45 0.46,0.45 0.64,-0.4")
    )
    threads = []
    for place in (0.2, 0.36, 0.52, 0.68):
        threads.append(
            [
                blade.at(place, -0.95),
                blade.at(place + 0.1, 0),
                blade.at(place + 0.04, 0.95),
            ]
        )
        threads.append(
            [
                blade.at(place, 0.9),
                blade.at(place + 0.16, 0.1),
                blade.at(place + 0.2, -0.8),
            ]
        )
    spots = dots(points_of("-4,-2 4,-2"), 4, INK)
    mesh = marks.web(
        lines_of(
            "-34,-20 0,-26 34,-14|-34,16 -4,24 34,20|-26,-30 -18,0 "
            "-28,30|24,-30 20,2 28,28"
        )
    )
    return drawing(
        "Yellow patches that bulge upward with fine web over them; through the lens "
        "a pale mite with two dark spots.",
        100,
        stalk(blade),
        blade.draw(LEAF, bulges, marks.web(threads)),
        lens(
            (120, 102),
            34,
            0.9,
            mesh,
            placed(animals.mite((226, 206, 110)) + spots, (0, -2), 20, 1.3, 1.3),
        ),
    )


def soft_scale() -> Drawing:
    blade = Blade((52, 74), 104, 48, -24, 4)
    bump = disc((0, 0), 6, (150, 98, 56), INK, 1, 1.4) + stroke(
        points_of("0,-5 0,5"), (206, 164, 110), 1.4
    )
    places = [
        (blade.at(*spot), 66, 0.9)
        for spot in points_of("0.14,0 0.3,0.08 0.44,-0.06 0.58,0.06 0.3,-0.4 0.72,0")
    ]
    on_twig = places_of(
        "34,126,20,1.1 40,108,20,1.1 48,92,20,1.1 26,142,20,1.1 58,70,22,1.1"
    )
    soot = dots(blade.scattered(Random(2), 16, apart=8), 7, (58, 62, 50))
    drops = ringed(points_of("94,92 122,84 76,98"), (6, INK), (4.4, (250, 240, 200)))
    domed = disc((0, 2), 24, (50, 42, 40), INK, 1.6, 0.85) + strokes(
        lines_of("-9,-12 -9,16|9,-12 9,16|-9,2 9,2"), (206, 190, 170), 3
    )
    ant = placed(animals.ant(), (72, 34), 200, 0.6, 1)
    return drawing(
        "Brown bumps along a twig and the midrib of a sticky leaf with a black "
        "film; an ant comes up; through the lens a domed one with an H-shaped "
        "ridge.",
        40,
        stroke(points_of("20,150 44,104 66,50 80,-6"), INK, 13),
        stroke(points_of("20,150 44,104 66,50 80,-6"), mixed(LEAF, BARK, 0.4), 10.4),
        blade.draw(LEAF, soot),
        repeated("a", bump, [*places, *on_twig]),
        drops,
        ant,
        lens((122, 104), 30, 6, domed),
    )


def armoured_scale() -> Drawing:
    disc_piece = disc((0, 0), 5, (160, 78, 46), INK, 0.9) + disc(
        (0, 0), 2, (214, 140, 90), None
    )
    dice = Random(5)
    places = [
        ((58 + 34 * a, 90 + 34 * b), 0.0, size)
        for a, b, size in [
            (dice.uniform(-0.9, 0.9), dice.uniform(-0.9, 0.9), dice.uniform(0.4, 0.5))
            for _disc in range(40)
        ]
        if a * a + b * b < 1
    ]
    halo = dots([at for at, _turn, _size in places], 8, (140, 160, 76))
    close = (
        disc((-4, -2), 22, (166, 84, 50))
        + disc((-4, -2), 15, (190, 108, 66), None)
        + disc((-4, -2), 6, (226, 160, 112), INK, 1)
        + stroke(points_of("14,16 20,8 28,10"), INK, 2)
        + blob(points_of("16,18 26,12 32,20 26,28 16,26"), (240, 200, 80), INK, 1.2)
    )
    return drawing(
        "Flat round reddish-brown discs, dry, each with a green ring on the fruit; "
        "through the lens one whose cover has been lifted off the yellow insect.",
        75,
        hanging(58, 44, size=0.8),
        fruit((58, 90), 44, ORANGE, halo, repeated("a", disc_piece, places)),
        lens((122, 62), 33, 3, close),
    )


def purple_scale() -> Drawing:
    blade = Blade((8, 110), 120, 62, -30, 4)
    mussel = blob(
        points_of("0,-9 3,-5 4.5,2 3.5,8 0,10 -3.5,8 -4,2 -2,-5"), (112, 66, 72), INK, 1
    ) + disc((0, -7), 1.8, (196, 140, 100), None)
    flat = shape(points_of("-4,-6 4,-6 4,6 -4,6"), (30, 28, 28), (244, 240, 226), 2)
    places = [
        (blade.at(a, b), a * 300, 0.6)
        for a, b in points_of(
            "0.2,-0.3 0.32,0.4 0.42,-0.5 0.5,0.1 0.6,0.5 0.66,-0.35 0.8,0.1 0.3,-0.05"
        )
    ]
    blacks = [
        (blade.at(a, b), a * 500, 0.55)
        for a, b in points_of("0.42,0.65 0.55,-0.2 0.74,0.42 0.24,0.3 0.76,-0.5")
    ]
    return drawing(
        "Brown-purple mussel shapes and small black rectangles with a pale fringe, "
        "flat and dry on an inner leaf; through the lens one of each.",
        42,
        stalk(blade),
        blade.draw(mixed(SOFT_LEAF, LEAF, 0.3)),
        repeated("a", mussel, places),
        repeated("e", flat, blacks),
        lens(
            (122, 100),
            32,
            6,
            placed(mussel, (-11, 0), 24, 1.7, 1.4),
            placed(flat, (13, 0), -10, 1.5, 2),
        ),
    )


def cottony_cushion() -> Drawing:
    grooves = "".join(
        stroke([(x, 2), (x * 1.25, 16), (x * 1.15, 29)], (186, 180, 168), 1.4)
        for x in (-7, -4.2, -1.4, 1.4, 4.2, 7)
    )
    insect = (
        blob(points_of("-9,-2 -11,14 -9,28 0,32 9,28 11,14 9,-2"), WHITE)
        + grooves
        + blob(points_of("-8,-4 -6,-11 0,-14 6,-11 8,-4 6,2 -6,2"), (196, 104, 48))
        + strokes(lines_of("-5,-9 5,-9|-7,-5 7,-5"), (130, 60, 26), 1)
        + strokes(lines_of("-6,-10 -11,-13|6,-10 11,-13"), INK, 1.4)
    )
    stem = points_of("60,150 74,100 84,50 92,-6")
    return drawing(
        "Orange-brown insects on a twig, each carrying a large white grooved egg "
        "sac; black film lies on the leaf below.",
        52,
        stroke(stem, INK, 17),
        stroke(stem, (136, 130, 84), 14),
        Blade((64, 130), 76, 40, 168, 4).draw(
            LEAF,
            dots(
                points_of("20,128 30,136 40,126 44,140 28,120 52,132 14,136"),
                9,
                (48, 50, 44),
            ),
        ),
        placed(insect, (84, 104), 14, 1.0, 1.3),
        placed(insect, (70, 56), 12, 1.1, 1.3),
        placed(insect, (100, 44), 190, 0.95, 1.3),
    )


def mealybug() -> Drawing:
    threads = "".join(
        strokes(
            [
                [(side * 7, y), (side * 12, y + 1.4)]
                for y in (-8, -4, 0, 4, 8)
                for side in (-1, 1)
            ],
            INK,
            1.9,
        )
    )
    bug = (
        threads
        + strokes(lines_of("-2,11 -3,19|2,11 3,19"), INK, 1.9)
        + blob(points_of("0,-13 6,-9 8,0 6,10 0,13 -6,10 -8,0 -6,-9"), (246, 242, 236))
        + strokes(
            lines_of("-6,-6 6,-6|-7.4,-2 7.4,-2|-7.4,2 7.4,2|-6.4,6 6.4,6"),
            (176, 160, 158),
            1,
        )
    )
    cotton = ringed(
        points_of("70,92 76,84 80,94 74,102 84,104 72,78 82,112"),
        (13, (150, 150, 146)),
        (11, WHITE),
    )
    return drawing(
        "White powdery oval insects with short threads along their sides sit where "
        "two fruit touch, with cotton between them; one through the lens.",
        88,
        hanging(46, 40, size=0.8),
        fruit((42, 88), 40, ORANGE),
        fruit((112, 106), 38, ORANGE, name="b"),
        cotton,
        placed(bug, (58, 66), 40, 0.3, 1),
        placed(bug, (92, 80), -50, 0.3, 1),
        placed(bug, (62, 118), 90, 0.3, 1),
        placed(bug, (36, 54), 20, 0.3, 1),
        lens((124, 32), 26, 5, placed(bug, (0, -2), 24, 1.3, 1.3)),
    )


def whitefly() -> Drawing:
    fly = (
        blob(points_of("0,-8 6,-4 8,6 4,11 0,6 -4,11 -8,6 -6,-4"), WHITE)
        + stroke(points_of("0,-6 0,6"), (210, 180, 80), 2.6)
        + dots([(0, -8)], 5, (220, 190, 90))
        + animals.feelers(4, -10)
    )
    blade = Blade((10, 112), 120, 64, -28, 4)
    pale = mixed(SOFT_LEAF, WHITE, 0.25)
    nymphs = [
        blade.at(*spot)
        for spot in points_of("0.2,0.3 0.3,-0.4 0.36,0.5 0.6,0.5 0.7,0.1")
    ]
    wool = "".join(
        strokes(
            [
                [
                    along(spot, 3, turn),
                    along(spot, 9, turn + 25),
                    along(spot, 13, turn + 5),
                ]
                for turn in range(0, 360, 60)
            ],
            WHITE,
            1.6,
        )
        for spot in (blade.at(0.46, -0.2), blade.at(0.64, -0.4), blade.at(0.42, 0.28))
    )
    drops = ringed(
        [blade.at(0.5, -0.02), blade.at(0.7, -0.2)], (6, INK), (4.4, (250, 244, 214))
    )
    return drawing(
        "White winged flies lift off a leaf; its underside carries woolly white "
        "threads with droplets and flat see-through nymphs; one fly through the "
        "lens.",
        32,
        stalk(blade, SOFT_LEAF),
        blade.draw(
            pale,
            ringed(nymphs, (8, mixed(LEAF, INK, 0.2)), (6, (236, 236, 190))),
            wool,
            drops,
        ),
        "".join(
            placed(fly, at, turn, 0.42, 1)
            for at, turn, _size in places_of(
                "20,50,-40,1 44,30,10,1 70,22,30,1 92,12,-20,1 30,72,-60,1 64,46,0,1"
            )
        ),
        lens((126, 98), 30, 2.6, placed(fly, (0, 0), 20, 1.7, 1.3)),
    )


def spiny_blackfly() -> Drawing:
    spines = [
        [along((0, 0), 8, turn), along((0, 0), 15, turn)] for turn in range(10, 370, 30)
    ]
    pupa = (
        disc((0, 0), 11.5, None, (255, 255, 252), 3, 1.3)
        + disc((0, 0), 9.6, (26, 26, 30), INK, 1, 1.3)
        + strokes(spines, INK, 1.3)
        + strokes(
            lines_of("-3,-7 -3,-2|3,-7 3,-2|-4,3 -4,8|4,3 4,8"), (130, 134, 140), 1
        )
    )
    blade = Blade((8, 116), 128, 66, -32, 4)
    pale = mixed(SOFT_LEAF, WHITE, 0.3)
    group = [
        (blade.at(a, b), a * 400, 0.36)
        for a, b in points_of(
            "0.3,-0.3 0.34,0.1 0.38,-0.5 0.42,-0.15 0.46,0.25 "
            "0.5,-0.4 0.55,0 0.4,0.45 0.6,0.35 0.62,-0.3 0.3,0.4"
        )
    ]
    spiral = [
        along(blade.at(0.78, 0), 10 - step * 0.6, step * 34) for step in range(15)
    ]
    return drawing(
        "Groups of shiny black oval discs under a leaf, bristling with spines and "
        "edged with white wax, beside eggs laid in a spiral; one through the lens.",
        24,
        stalk(blade, SOFT_LEAF),
        blade.draw(pale, dots(spiral, 2.6, (150, 110, 40))),
        repeated("a", pupa, group),
        lens((124, 102), 32, 2.2, placed(pupa, (0, 0), 30, 1.3, 1.3)),
    )


def sooty_mould() -> Drawing:
    blade = big_leaf(width=82)
    film = [
        blade.at(*spot)
        for spot in points_of(
            "0.02,0 0.2,-0.9 0.5,-1.2 0.8,-1.1 0.98,-0.3 0.9,0.5 "
            "0.7,0.3 0.62,0.75 0.5,0.35 0.36,0.8 0.2,1.1"
        )
    ]
    wiped = [
        blade.at(*spot)
        for spot in points_of("0.4,-0.8 0.5,-0.3 0.6,0.1 0.7,0 0.64,-0.45 0.54,-0.9")
    ]
    thumb = blob(
        points_of("150,-6 116,24 100,42 94,56 100,64 112,60 128,46 166,16"),
        (222, 176, 140),
    ) + blob(points_of("98,50 106,44 110,52 102,60"), (240, 208, 182), INK, 1)
    return drawing(
        "A black film over most of a leaf; a thumb has wiped a clean green streak "
        "into it.",
        105,
        stalk(blade),
        blade.draw(
            LEAF,
            blob(film, (44, 46, 40), (64, 74, 52), 6),
            blob(wiped, LEAF, (90, 110, 74), 2),
        ),
        thumb,
    )


def ants_trunk() -> Drawing:
    up = [(at, -2, 0.45) for at in points_of("64,124 66,98 64,72 66,46 64,20")]
    down = [(at, 178, 0.45) for at in points_of("94,10 92,36 94,62 92,88 94,112")]
    return drawing(
        "Two steady lines of ants on a trunk, one going up and one coming down.",
        60,
        ground(132),
        trunk((80, 136), 160, 76, fill=PALE_BARK),
        repeated("a", animals.ant(), [*up, *down]),
        marks.arrow((26, 88), (26, 54)),
        marks.arrow((136, 54), (136, 88)),
    )


def gall_wasp() -> Drawing:
    swelling = points_of(
        "60,112 54,96 58,82 54,68 60,52 72,44 84,50 92,64 88,78 94,92 88,108 76,118"
    )
    holes = points_of("64,62 74,56 82,66 68,76 80,82 62,90 74,96 84,100 70,108 86,74")
    wasp = (
        strokes(lines_of("-4,2 -9,8|4,2 9,8|-4,-2 -9,-6|4,-2 9,-6"))
        + blob(points_of("2,-4 12,-12 18,-8 14,0 4,0"), animals.CLEAR, INK, 1)
        + blob(points_of("-2,-4 -12,-12 -18,-8 -14,0 -4,0"), animals.CLEAR, INK, 1)
        + disc((0, 7), 4.6, (70, 46, 34), INK, 1, 1.3)
        + disc((0, -3), 4, (60, 40, 30), INK, 1)
        + disc((0, -9), 3, (60, 40, 30), INK, 1)
        + animals.feelers(8, -11)
    )
    stem = points_of("66,150 70,116 72,60 80,20 86,-6")
    return drawing(
        "A young stem swollen into a woody lump with pin holes where the small "
        "wasps have left; one wasp through the lens.",
        80,
        stroke(stem, INK, 14),
        stroke(stem, (124, 138, 82), 11.4),
        blob(swelling, (152, 128, 84)),
        ringed(holes, (4.4, (206, 176, 124)), (2.8, INK)),
        leaves(
            places_of("72,120,-70,1 78,30,60,1 70,124,68,0.9"), LEAF, small_leaf(48, 22)
        ),
        lens((124, 96), 28, 6, placed(wasp, (0, 0), 20, 0.95, 1.2)),
    )


def chewed() -> Drawing:
    blade = Blade((10, 128), 158, 84, -38, 4)
    paper = (250, 247, 235)
    bites = (
        disc(blade.at(0.42, -1.05), 20, paper)
        + disc(blade.at(0.56, -0.95), 14, paper)
        + disc(blade.at(0.7, 1.0), 19, paper)
        + disc(blade.at(0.86, 0.8), 10, paper)
    )
    grub = (
        blob(
            points_of("-22,2 -18,-7 -8,-9 6,-7 18,-5 24,0 18,6 0,7 -16,8"), (84, 74, 58)
        )
        + blob(points_of("-4,-8 6,-7 10,0 4,7 -6,7"), (238, 232, 214), None)
        + strokes(lines_of("-20,-4 -26,-12 -24,-18|-18,-6 -20,-16 -15,-20"), INK, 4)
        + strokes(
            lines_of("-20,-4 -26,-12 -24,-18|-18,-6 -20,-16 -15,-20"),
            (226, 90, 40),
            2.4,
        )
        + dots([(-18, 0)], 2.4, INK)
    )
    return drawing(
        "Whole pieces are eaten out of a leaf; on it a caterpillar like a bird "
        "dropping puts out forked red-orange horns.",
        105,
        stalk(blade),
        blade.draw(LEAF, bites),
        placed(grub, (70, 92), -36, 0.95, 1.3),
    )


def snails() -> Drawing:
    blade = Blade((40, 66), 108, 56, -22, 4)
    paper = (250, 247, 235)
    holes = "".join(
        blob(
            [
                (x + a * s, y + b * s)
                for a, b in points_of(
                    "-1,0 -0.4,-0.8 0.3,-0.5 0.9,-0.9 1,0.3 0.2,0.9 -0.5,0.5"
                )
            ],
            paper,
            INK,
            1.2,
        )
        for x, y, s in ((76, 54, 9), (104, 36, 8), (98, 58, 6), (122, 44, 5))
    )
    slime = stroke(points_of("150,124 128,128 106,122 84,128 70,126"), INK, 8) + stroke(
        points_of("150,124 128,128 106,122 84,128 70,126"), (224, 230, 226), 6
    )
    return drawing(
        "A snail on its silver trail of slime, and a low leaf with ragged holes.",
        90,
        ground(130, MULCH),
        blade.draw(SOFT_LEAF, holes),
        stroke(points_of("30,130 36,90 40,66"), INK, 6),
        stroke(points_of("30,130 36,90 40,66"), LEAF, 3.4),
        slime,
        placed(animals.snail((186, 140, 86)), (52, 116), 0, 1.6, 1.5),
    )


def night_chewers() -> Drawing:
    blade = Blade((8, 104), 128, 66, -30, 4)
    paper = (250, 247, 235)
    notches = "".join(
        disc(blade.at(place, side), 6.4, paper)
        for side in (-1, 1)
        for place in (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8)
        if (place, side) != (0.2, -1)
    )
    weevil = animals.beetle(
        (96, 84, 66), stroke(points_of("0,-12 0,-18"), INK, 4), feeler=9
    )
    moon = blob(
        points_of("30,8 20,12 14,22 16,34 26,42 38,40 28,36 24,26 26,16"),
        (238, 224, 160),
    )
    earwig = (
        animals.legs(8, (-6, -2, 2), slim=2)
        + animals.feelers(10, -14, 25)
        + blob(points_of("-3,-14 3,-14 4,-6 4,4 3,14 -3,14 -4,4 -4,-6"), (130, 72, 40))
        + strokes(lines_of("-1.4,14 -5,20 -1,26|1.4,14 5,20 1,26"), INK, 1.8)
    )
    return drawing(
        "Saw-toothed notches all along the edge of a leaf, a moon for the night, "
        "and the feeders: a weevil and an earwig.",
        70,
        moon,
        stalk(blade),
        blade.draw(SOFT_LEAF, notches),
        placed(weevil, (78, 74), 60, 0.8, 1.2),
        placed(earwig, (126, 116), 40, 0.95, 1.2),
    )


def leafroller() -> Drawing:
    roll = points_of(
        "20,122 26,108 58,84 96,58 130,36 142,40 136,52 104,78 70,102 36,124"
    )
    lip = points_of("26,110 58,86 96,60 132,38 122,54 92,76 58,100 32,116")
    ties = marks.web(
        lines_of(
            "46,88 60,98 66,108|66,74 78,86 86,96|88,60 98,72 "
            "106,80|108,46 116,58 122,66"
        )
    )
    worm = placed(
        animals.caterpillar((150, 182, 90), (122, 96, 50), length=40, bend=5),
        (44, 122),
        -28,
        1.0,
        1.2,
    )
    other = Blade((20, 120), 96, 40, -84, 6)
    return drawing(
        "A leaf rolled up lengthwise and tied with silk; a thin green caterpillar "
        "comes out of the roll.",
        75,
        twig(points_of("-6,150 20,122 14,150"), SOFT_LEAF, 4),
        other.draw(SOFT_LEAF),
        blob(roll, SOFT_LEAF),
        blob(lip, mixed(SOFT_LEAF, WHITE, 0.3), INK, 1.2),
        ties,
        worm,
    )


def good_bugs() -> Drawing:
    beetle = (
        animals.legs(13, (-4, 1, 6), slim=8)
        + disc((0, 2), 12, (206, 62, 40))
        + stroke(points_of("0,-9 0,14"), INK, 1.4)
        + blob(points_of("-7,-8 -5,-14 5,-14 7,-8 0,-6"), INK, None)
        + dots(points_of("-6,-3 6,-3 -6,6 6,6 0,-5"), 4.6, INK)
        + dots(points_of("-4,-11 4,-11"), 2.4, WHITE)
    )
    grub = (
        animals.legs(11, (-8, -4, 0), slim=4)
        + blob(points_of("-3,-14 3,-14 5,-6 5,6 2,16 -2,16 -5,6 -5,-6"), (70, 76, 84))
        + dots(points_of("-3,-6 3,-6 -3,4 3,4"), 2.6, (236, 140, 50))
        + strokes(
            lines_of("-5,-2 -8,-4|5,-2 8,-4|-5,4 -8,4|5,4 8,4|-4,10 -7,12|4,10 7,12"),
            INK,
            1.2,
        )
    )
    eggs = strokes(lines_of("20,60 14,34|32,62 30,34|44,62 46,36"), INK, 1.2) + "".join(
        disc(at, 3.4, WHITE, INK, 1, 1.5) for at in points_of("14,30 30,29 46,31")
    )
    mummy = (
        disc((0, 0), 11, (214, 178, 120), INK, 1.4, 1.2)
        + disc((3, 6), 4, INK, None)
        + strokes(lines_of("-8,-9 -13,-14|8,-9 13,-14|-11,2 -16,4|11,2 16,4"), INK, 1.2)
    )
    blade = Blade((4, 72), 150, 64, 4, 6)
    return drawing(
        "Helpers on a leaf: a ladybird and its spiny grub, lacewing eggs on hair- "
        "thin stalks, and a swollen tan aphid mummy with a round hole.",
        32,
        blade.draw(SOFT_LEAF),
        eggs,
        placed(beetle, (104, 62), 50, 1.05, 1.3),
        placed(grub, (64, 82), 70, 1.05, 1.2),
        placed(mummy, (122, 92), 10, 0.5, 1.2),
        lens((36, 118), 25, 3, placed(mummy, (0, -1), 10, 1.2, 1.3)),
    )


def spined_bug() -> Drawing:
    young = (
        animals.legs(8, (-3, 0, 3), slim=5)
        + disc((0, 0), 7, (236, 180, 60))
        + dots(points_of("0,0 -3,-3 3,-3 0,4"), 2.4, INK)
    )
    gum = marks.gum_drop((96, 104), 4)
    return drawing(
        "A bright green shield bug with a sharp spine on each shoulder on a lemon "
        "with a drop of gum; beside it a small yellow and black young one.",
        78,
        hanging(86, 50),
        fruit(
            (84, 92), 40, LEMON, gum, outline=lemon_outline((84, 92), 40), stem=False
        ),
        placed(
            animals.shield_bug((112, 176, 62), spines=True), (80, 78), -24, 1.75, 1.5
        ),
        placed(young, (126, 104), 30, 0.8, 1.2),
    )


def bronze_bug() -> Drawing:
    stem = points_of("60,150 70,100 84,50 92,-6")
    return drawing(
        "Shield bugs without spines crowd a shoot: bronze-black grown ones, bright "
        "orange young and a flat pale green one.",
        90,
        stroke(stem, INK, 9),
        stroke(stem, SOFT_LEAF, 6.4),
        leaves(
            places_of("72,100,-64,1 88,40,60,1 64,130,66,1"),
            SOFT_LEAF,
            small_leaf(54, 24),
        ),
        placed(animals.shield_bug((84, 62, 48)), (74, 92), 16, 1.85, 1.5),
        placed(animals.shield_bug((86, 66, 46)), (94, 36), 190, 1.75, 1.5),
        placed(animals.shield_bug((234, 130, 44)), (118, 92), -30, 1.2, 1.3),
        placed(animals.shield_bug((234, 130, 44)), (42, 60), 40, 1.1, 1.3),
        placed(animals.shield_bug((186, 208, 140)), (114, 128), 50, 0.8, 1.2),
    )


def oriental_fly() -> Drawing:
    patch = (
        strokes(lines_of("-4.6,-5 -4.6,2|4.6,-5 4.6,2"), (244, 208, 70), 1.8)
        + blob(points_of("-2.4,2 2.4,2 1.6,4 -1.6,4"), (244, 208, 70), None)
        + strokes(lines_of("-4.6,6 4.6,6|0,6 0,12"), INK, 1.4)
    )
    insect = animals.fly(
        (64, 46, 40),
        (196, 124, 60),
        patch,
        bands=(points_of("4,-5 9,-8 17,-5 21,1"),),
        band=(70, 50, 36),
    )
    sting = ringed(
        [(52, 106)],
        (20, mixed(ORANGE, BROWN, 0.35)),
        (12, mixed(ORANGE, BROWN, 0.85)),
        (3.4, INK),
    )
    return drawing(
        "Through the lens a dark wasp-like fly with yellow side bands, a yellow "
        "patch at the end of its chest and clear wings with a dark front edge; a "
        "stung fruit.",
        120,
        hanging(40, 66, size=0.7),
        fruit((40, 106), 36, ORANGE, sting),
        lens((100, 58), 48, 16, placed(insect, (0, -2), 12, 2.0, 1.5)),
    )


SIGNS = (
    leafminer,
    aphids,
    aphids_fruit,
    thrips_leaf,
    red_mite,
    spider_mite,
    soft_scale,
    armoured_scale,
    purple_scale,
    cottony_cushion,
    mealybug,
    whitefly,
    spiny_blackfly,
    sooty_mould,
    ants_trunk,
    gall_wasp,
    chewed,
    snails,
    night_chewers,
    leafroller,
    good_bugs,
    spined_bug,
    bronze_bug,
    oriental_fly,
)
