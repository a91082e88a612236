"""Signs on rind and leaf: scars, spots, warts and wounds."""

from __future__ import annotations

from random import Random

from orchard.demonstration.brush import (
    BARK,
    BROWN,
    DARK_LEAF,
    GREEN_FRUIT,
    INK,
    LEAF,
    ORANGE,
    SOFT_LEAF,
    WHITE,
    YELLOW,
    along,
    mixed,
)
from orchard.demonstration.sign_drawings.plants import (
    LEMON,
    PITH,
    Blade,
    Shoot,
    fruit,
    hanging,
    leaves,
    lemon_outline,
    small_leaf,
    twig,
)
from orchard.demonstration.sign_drawings.sheet import (
    Drawing,
    drawing,
)
from orchard.demonstration.sign_drawings.strokes import (
    blob,
    disc,
    dots,
    lines_of,
    places_of,
    points_of,
    repeated,
    ringed,
    shape,
    stroke,
    strokes,
)

SCAR = (206, 188, 156)


def wind_scar() -> Drawing:
    scuffs = lines_of(
        "38,96 60,82 88,66 106,58|46,110 70,94 96,80 112,70|64,118 84,104 104,92"
    )
    blade = Blade((58, 30), 84, 38, -14, -4)
    tears = "".join(
        shape(
            [
                blade.at(place, side * 1.3),
                blade.at(place + 0.02, side * 0.3),
                blade.at(place + 0.09, side * 1.3),
            ],
            (250, 246, 234),
            INK,
            1,
        )
        for place, side in ((0.3, 1), (0.5, -1), (0.66, 1))
    )
    return drawing(
        "Long slanting scars cross one face of a fruit; the leaf above is torn at "
        "its edges.",
        105,
        twig(points_of("50,-4 58,30 62,40"), BARK, 4),
        blade.draw(LEAF, tears),
        fruit(
            (72, 90),
            50,
            ORANGE,
            strokes(scuffs, mixed(BROWN, INK, 0.2), 6),
            strokes(scuffs, SCAR, 4),
        ),
    )


def thrips_scar() -> Drawing:
    ring = [
        along((84, 44), 27 + (2.5 if step % 2 else -2), step * 20) for step in range(18)
    ]
    rays = [
        [along((84, 44), 29, turn), along((84, 44), 42, turn + 5)]
        for turn in range(8, 368, 24)
    ]
    return drawing(
        "A rough silvery-grey ring lies evenly round the stem end of a fruit.",
        90,
        fruit(
            (80, 76),
            62,
            ORANGE,
            strokes(rays, SCAR, 2.4),
            blob(ring, None, mixed(SCAR, INK, 0.45), 13),
            blob(ring, None, (222, 214, 196), 10),
            stem=False,
        ),
        disc((84, 44), 8, DARK_LEAF, INK, 1.4),
        stroke(points_of("84,44 88,24 86,-4"), INK, 7),
        stroke(points_of("84,44 88,24 86,-4"), BARK, 4.4),
    )


def rust_mite() -> Drawing:
    film = points_of("20,60 50,52 84,62 108,84 124,110 116,150 20,150 0,100")
    return drawing(
        "A smooth even brown film covers the shaded part of the rind, without "
        "scratches or rings.",
        90,
        hanging(84, 18),
        fruit(
            (80, 78),
            58,
            (236, 196, 70),
            blob(film, (136, 98, 66), (190, 146, 68), 8),
            blob(
                points_of("20,96 48,92 74,104 88,124 80,150 20,150"),
                (108, 76, 52),
                None,
            ),
        ),
    )


def bird_peck() -> Drawing:
    hole = points_of("58,62 82,56 104,66 98,84 84,112 76,92 62,80")
    flesh = points_of("66,68 82,64 96,70 92,84 84,102 78,88 68,78")
    beak = shape(points_of("160,14 122,40 160,36"), (206, 150, 60)) + blob(
        points_of("142,4 156,-6 176,4 176,40 156,42 144,30"), (70, 66, 64)
    )
    return drawing(
        "A V-shaped hole pecked into a ripe fruit; a bird's beak comes from the "
        "upper right.",
        88,
        hanging(80, 18),
        fruit(
            (78, 78),
            58,
            ORANGE,
            blob(hole, PITH, INK, 1.8),
            blob(flesh, (198, 96, 34), INK, 1),
        ),
        beak,
        dots([(150, 16)], 4, WHITE),
        dots([(150, 16)], 2, INK),
    )


def rind_spots() -> Drawing:
    dice = Random(4)
    pits = ""
    for x, y, size in (
        (52, 66, 9),
        (70, 96, 12),
        (102, 70, 7),
        (44, 96, 6),
        (84, 56, 5),
        (96, 104, 8),
    ):
        outline = [
            along((x, y), size * dice.uniform(0.6, 1.15), step * 45)
            for step in range(8)
        ]
        pits += blob(outline, (150, 106, 62), (120, 80, 46), 1.4)
    tears = lines_of("112,40 116,60 114,84|120,44 124,64 122,80|106,46 108,56 107,64")
    return drawing(
        "Irregular shallow tan pits without a dark rim, and reddish-brown tear "
        "stains that run down a ripe fruit.",
        90,
        hanging(80, 18),
        fruit((80, 78), 58, ORANGE, pits, strokes(tears, (150, 62, 30), 3.4)),
    )


def oil_spots() -> Drawing:
    dice = Random(8)
    patch = points_of("44,62 70,50 96,60 112,80 104,102 78,110 56,100 40,84")
    glands = []
    for row in range(9):
        for column in range(10):
            spot = (
                40 + column * 8.4 + (row % 2) * 4 + dice.uniform(-1, 1),
                50 + row * 7.4,
            )
            if ((spot[0] - 78) / 34) ** 2 + ((spot[1] - 80) / 29) ** 2 < 1:
                glands.append(spot)
    return drawing(
        "A sunken green-brown patch on the rind in which the oil glands stand out "
        "as pale dots.",
        60,
        fruit(
            (80, 80),
            62,
            LEMON,
            blob(patch, (124, 116, 58), (176, 160, 64), 4),
            dots([(x + 1, y + 1) for x, y in glands], 4.4, (84, 76, 40)),
            dots(glands, 3.6, (232, 214, 110)),
        ),
    )


def citrus_scab() -> Drawing:
    wart = (
        disc((0, 0), 9, (150, 106, 66), INK, 1.2)
        + blob(points_of("-6,-4 -2,-8 4,-7 7,-2 5,5 -2,6 -7,2"), (214, 170, 120), None)
        + strokes(lines_of("-4,-3 0,1 -3,4|2,-5 3,0 5,3"), (130, 88, 54), 1.2)
    )
    places = [
        ((x, y), x * 3, 0.5 + (x % 7) / 8)
        for x, y in points_of(
            "86,70 104,58 118,76 98,86 112,96 84,98 128,92 100,110 90,52 122,112 76,84"
        )
    ]
    blade = Blade((4, 112), 74, 44, -62, -6)
    cones = [
        (blade.at(*spot), 20, 0.6)
        for spot in points_of("0.35,-0.4 0.5,0.4 0.65,-0.3 0.8,0.2 0.25,0.4")
    ]
    return drawing(
        "Many raised corky warts, pink to tan and without a ring, on a fruit and on "
        "one side of a young leaf.",
        75,
        blade.draw(SOFT_LEAF),
        fruit((104, 82), 46, mixed(LEMON, GREEN_FRUIT, 0.4)),
        repeated("w", wart, [*places, *cones]),
    )


def melanose() -> Drawing:
    dice = Random(7)
    specks = []
    for start, bend in ((50, 8), (74, -6), (98, 10), (116, -4)):
        for _speck in range(34):
            y = dice.uniform(34, 128)
            specks.append((start + bend * (y - 80) / 40 + dice.gauss(0, 3.4), y))
    return drawing(
        "Fine raised dark-brown specks, rough like sandpaper, in streaks where "
        "water ran down a fruit from a dead twig above.",
        90,
        stroke(points_of("20,-6 40,16 78,18"), INK, 8),
        stroke(points_of("20,-6 40,16 78,18"), (168, 160, 148), 5.4),
        strokes(lines_of("40,16 56,2|28,4 18,18"), (120, 112, 104), 3),
        fruit((80, 80), 60, ORANGE, dots(specks, 2.6, (96, 52, 28))),
    )


def hail() -> Drawing:
    stones = ringed(
        points_of("20,22 40,42 16,60 56,16 30,86 72,34"),
        (11, INK),
        (8.6, (236, 244, 246)),
    )
    falls = lines_of(
        "8,8 14,16|28,28 34,36|6,48 11,55|46,4 51,10|20,74 25,80|62,22 67,29"
    )
    bruises = "".join(
        disc(spot, size, (150, 102, 56), INK, 1.2)
        + strokes(
            [
                [along(spot, size, turn), along(spot, size * 1.9, turn)]
                for turn in (40, 170, 290)
            ],
            INK,
            1.6,
        )
        for spot, size in (
            ((78, 78), 7),
            ((66, 104), 6),
            ((98, 62), 5),
            ((92, 104), 4.5),
        )
    )
    blade = Blade((112, 44), 66, 38, -30, 4)
    torn = shape(
        [blade.at(0.5, -1.3), blade.at(0.42, 0.5), blade.at(0.6, -1.3)],
        (250, 246, 234),
        INK,
        1,
    ) + disc(blade.at(0.72, 0.3), 5, (250, 246, 234), INK, 1)
    return drawing(
        "Hailstones strike from one side: round bruises with cracks on that side of "
        "a fruit, a torn leaf.",
        100,
        twig(points_of("116,-4 112,40"), BARK, 4),
        blade.draw(LEAF, torn),
        fruit((106, 92), 50, ORANGE, bruises),
        strokes(falls, mixed(INK, WHITE, 0.4), 1.6),
        stones,
    )


def leprosis() -> Drawing:
    blade = Blade((70, 60), 86, 50, -20, 4)
    on_leaf = ringed(
        [blade.at(*spot) for spot in points_of("0.3,-0.3 0.5,0.4 0.7,-0.3")],
        (17, YELLOW),
        (9, (150, 92, 50)),
        (4.4, (214, 178, 130)),
    )
    on_fruit = ringed(
        points_of("92,104 116,96 108,124 128,116"),
        (16, (244, 214, 110)),
        (10, (140, 70, 40)),
        (4.6, (206, 160, 110)),
    )
    stem = points_of("24,150 34,100 46,50 52,-6")
    scaly = (
        blob(points_of("28,118 36,112 42,118 40,132 32,134"), (150, 74, 50), INK, 1)
        + blob(points_of("38,76 47,72 50,82 45,90 37,88"), (150, 74, 50), INK, 1)
        + blob(points_of("44,36 54,34 56,46 48,52"), (150, 74, 50), INK, 1)
    )
    cracks = strokes(lines_of("31,118 37,124 35,130|41,78 46,84|48,38 52,44"), INK, 1)
    return drawing(
        "Flat round spots, brown with a yellow ring, on leaf and fruit, and reddish "
        "scaly spots on the green twig.",
        70,
        stroke(stem, INK, 15),
        stroke(stem, (116, 148, 78), 12.4),
        scaly,
        cracks,
        stroke(points_of("47,62 70,60"), INK, 3),
        blade.draw(LEAF, on_leaf),
        fruit((112, 106), 34, ORANGE, on_fruit),
    )


def broad_mite() -> Drawing:
    shoot = Shoot((26, 140), 108, -74)
    curl = small_leaf(46, 12, bend=8)
    skin = points_of("62,92 84,84 108,88 124,104 116,124 92,130 68,122 56,108")
    net = lines_of(
        "66,100 82,106 98,100 114,108|70,116 84,110 100,116 "
        "112,112|82,92 84,106 82,122|100,92 98,108 102,124"
    )
    return drawing(
        "A small lemon with grey sharkskin on its inner side, and a soft tip with "
        "narrow, hard, curled bronze leaves.",
        70,
        shoot.draw_stem((150, 140, 80), 4),
        leaves(
            shoot.leaf_places(
                "0.3,-60,0.9 0.4,54,0.9 0.56,-52,0.85 0.68,46,0.8 "
                "0.82,-40,0.75 0.92,34,0.7 1,0,0.7"
            ),
            (176, 142, 74),
            curl,
        ),
        twig(points_of("112,30 104,74"), BARK, 4),
        leaves(places_of("110,40,66,0.8"), LEAF, small_leaf(56, 24), "l"),
        fruit(
            (98, 104),
            30,
            mixed(LEMON, GREEN_FRUIT, 0.5),
            blob(skin, (172, 166, 154), (140, 138, 110), 3),
            strokes(net, (110, 106, 98), 1),
            outline=lemon_outline((98, 104), 30),
            stem=False,
        ),
    )


def alternaria_spot() -> Drawing:
    blade = Blade((10, 100), 118, 62, -34, 4)
    spots = points_of("0.3,-0.4 0.45,0.45 0.62,-0.35 0.75,0.3 0.5,-0.75")
    halo = ringed(
        [blade.at(*spot) for spot in spots], (21, YELLOW), (11, (92, 60, 36)), (6, INK)
    )
    tails = "".join(
        stroke(
            [blade.at(a, b), blade.at(a + 0.07, b * 1.5), blade.at(a + 0.12, b * 1.9)],
            (56, 40, 30),
            3.4,
        )
        for a, b in points_of("0.3,-0.4 0.45,0.45 0.62,-0.35 0.75,0.3")
    )
    pocks = ringed(
        points_of("92,96 116,92 106,114 128,112 98,128 122,130 82,114"),
        (9, (196, 120, 40)),
        (6, (90, 62, 44)),
        (2.4, (190, 156, 116)),
    )
    return drawing(
        "Black spots with a wide yellow ring and a dark tail along the vein on a "
        "leaf; dark corky pocks on a mandarin.",
        80,
        blade.draw(LEAF, halo, tails),
        fruit((108, 110), 36, ORANGE, pocks),
    )


def citrus_blast() -> Drawing:
    stem = points_of("30,150 46,104 58,60 62,-6")
    blade = Blade((92, 66), 84, 46, 52, -6)
    wing = Blade((56, 68), 38, 15, -2, 0)
    hung = Blade((84, 26), 62, 30, 74, -5)
    wing_b = Blade((60, 24), 26, 11, 6, 0)
    scab = blob(
        points_of("49,72 62,64 66,76 60,92 50,98 45,88"), (140, 76, 48), INK, 1.2
    )
    wind = "".join(
        stroke(points_of(text), mixed(INK, WHITE, 0.35), 2)
        for text in ("4,34 22,30 36,34", "2,52 18,48 32,52", "6,70 22,66 34,70")
    )
    return drawing(
        "Wind from one side; the winged leaf stalks are black, the leaves hang dry "
        "and the twig has a reddish-brown scab at their foot; its wood stays clean.",
        90,
        wind,
        stroke(stem, INK, 13),
        stroke(stem, (106, 140, 74), 10.4),
        scab,
        hung.draw((150, 132, 84), name="h"),
        wing_b.draw((34, 30, 28), name="k"),
        blade.draw((136, 140, 80)),
        wing.draw((34, 30, 28), name="w"),
    )


def greasy_spot() -> Drawing:
    under = Blade((30, 138), 130, 58, -24, 4)
    top = Blade((6, 92), 128, 56, -32, 4)
    pale = mixed(SOFT_LEAF, WHITE, 0.35)
    dice = Random(12)
    spots = under.scattered(dice, 22, low=0.2, high=0.85, apart=9)
    faint = [(x - 26, y - 46) for x, y in spots]
    return drawing(
        "Under an old leaf greasy brown to black blisters; on its upper side only "
        "faint yellow patches.",
        120,
        top.draw(LEAF, dots(faint, 13, mixed(LEAF, YELLOW, 0.5)), name="a"),
        under.draw(
            pale,
            ringed(
                spots,
                (11, (196, 190, 90)),
                (7.6, (70, 50, 34)),
                (5, (36, 30, 26)),
                (1.6, (190, 180, 160)),
            ),
            name="u",
        ),
    )


SIGNS = (
    wind_scar,
    thrips_scar,
    rust_mite,
    bird_peck,
    rind_spots,
    oil_spots,
    citrus_scab,
    melanose,
    hail,
    leprosis,
    broad_mite,
    alternaria_spot,
    citrus_blast,
    greasy_spot,
)
