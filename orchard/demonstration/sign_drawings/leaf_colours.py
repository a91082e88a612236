"""Signs of hunger, water and sprays: what the colour of a leaf tells."""

from __future__ import annotations

from random import Random

from orchard.demonstration.brush import (
    BARK,
    BROWN,
    DARK_LEAF,
    EARTH,
    GREEN_FRUIT,
    INK,
    LEAF,
    SKY,
    SOFT_LEAF,
    WHITE,
    YELLOW,
    along,
    mixed,
)
from orchard.demonstration.sign_drawings.places import (
    ground,
    pot,
    puddle,
    tree,
)
from orchard.demonstration.sign_drawings.plants import (
    Blade,
    Shoot,
    big_leaf,
    fruit,
    leaves,
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
    places_of,
    points_of,
    ringed,
    shape,
    stroke,
    strokes,
)

BLEACHED = (246, 240, 214)


def winter_yellow() -> Drawing:
    shoot = Shoot((34, 146), 140, -62)
    old = shoot.leaf_places("0.12,-46,1 0.2,78,1 0.36,-38,0.95 0.46,78,0.9")
    young = shoot.leaf_places("0.6,-24,0.8 0.72,66,0.75 0.86,-4,0.65 0.96,44,0.6")
    leaf = small_leaf(66, 30)
    return drawing(
        "The older leaves low on a shoot are evenly yellow without a pattern; the "
        "younger leaves at its tip are still green.",
        180,
        shoot.draw_stem(mixed(LEAF, BARK, 0.3)),
        leaves(old, YELLOW, leaf),
        leaves(young, LEAF, small_leaf(64, 28), "g"),
    )


def pale_growing() -> Drawing:
    pale = tree((40, 138), 96, (196, 206, 112), thin=True, name="p")
    green = tree((114, 138), 116, LEAF, name="g")
    return drawing(
        "A tree pale green to yellow all over, with a thin crown, beside a well-fed "
        "green one.",
        4200,
        ground(138),
        pale,
        green,
    )


def iron_young() -> Drawing:
    blade = big_leaf(width=72)
    cross = [
        [
            blade.at(0.1 + 0.16 * step, side * (wide + (0.08 if step % 2 else -0.08)))
            for step in range(6)
        ]
        for side in (-1, 1)
        for wide in (0.3, 0.55, 0.78)
    ]
    net = blade.veins(LEAF, 1, every=1) + strokes(cross, LEAF, 1)
    return drawing(
        "A fine green net of veins on a pale yellow young leaf, alike on both halves.",
        75,
        stalk(blade, SOFT_LEAF),
        blade.draw((240, 230, 160), net, veins=LEAF, line=1.3),
    )


def zinc_manganese() -> Drawing:
    blade = Blade((14, 104), 134, 48, -38, 0)
    patches = ""
    for place in (0.12, 0.29, 0.46, 0.62, 0.77):
        for side in (-1, 1):
            patches += blade.patch(
                [
                    (place, side * 0.14),
                    (place + 0.1, side * 0.16),
                    (place + 0.21, side * 0.86),
                    (place + 0.11, side * 0.86),
                ],
                (240, 222, 110),
            )
    broad = Blade((66, 138), 98, 60, -24, 0)
    bands = ""
    for place in (0.1, 0.28, 0.46, 0.63):
        for side in (-1, 1):
            bands += stroke(
                [broad.at(place, 0), broad.at(place + 0.18, side * 0.9)], LEAF, 6
            )
    bands += stroke(broad.midrib[::6], LEAF, 8)
    return drawing(
        "A small narrow leaf blotched yellow between green veins, and a wider one "
        "with dark bands along its veins; both are the same on their two halves.",
        90,
        blade.draw(LEAF, patches, veins=DARK_LEAF),
        broad.draw((196, 208, 128), bands, veins=DARK_LEAF, name="m"),
    )


def magnesium_v() -> Drawing:
    blade = big_leaf(width=80)
    yellow = ""
    for side in (-1, 1):
        yellow += blade.patch(
            [
                (x, y * side)
                for x, y in points_of(
                    "0.12,1.4 0.28,0.85 0.46,0.4 0.62,0 0.8,0 1,0 1,1.3 0.6,1.5"
                )
            ],
            (232, 206, 84),
            mixed(LEAF, YELLOW, 0.5),
            6,
        )
    tip = blade.patch(points_of("0.86,-0.5 0.86,0.5 0.93,0.9 0.97,0.0 0.93,-0.9"), LEAF)
    return drawing(
        "An old leaf, yellow at the sides, that keeps a green arrowhead at its base "
        "and a green tip.",
        105,
        stalk(blade),
        blade.draw(LEAF, yellow, tip, veins=mixed(LEAF, INK, 0.3)),
    )


def one_branch_yellow() -> Drawing:
    return drawing(
        "A green tree with all the leaves of one limb yellow.",
        3200,
        ground(138),
        tree((80, 138), 128, LEAF, part=(210, 190, 70)),
    )


def yellow_veins() -> Drawing:
    blade = big_leaf(width=78)
    return drawing(
        "A leaf with a green blade whose midrib and side veins are broad and yellow.",
        105,
        stalk(blade, (226, 206, 100)),
        blade.draw(
            LEAF, blade.veins((246, 226, 96), 3.4), veins=(246, 226, 96), line=3
        ),
    )


def salt_tips() -> Drawing:
    blade = big_leaf(width=76)
    rim = points_of(
        "0.4,1.0 0.6,0.8 0.74,0.5 0.8,0.0 0.74,-0.5 0.6,-0.8 "
        "0.4,-1.0 0.7,-1.4 1.0,-1.0 1.0,1.0 0.7,1.4"
    )
    dice = Random(4)
    specks = blade.scattered(dice, 16, low=0.3, high=0.7, apart=8)
    return drawing(
        "An old leaf dried brown at its tip and along its edges, with yellow "
        "speckles; below, a white crust on the soil.",
        105,
        stalk(blade),
        blade.draw(
            LEAF,
            dots(specks, 4, YELLOW),
            blade.patch(rim, BROWN, (214, 178, 84), 6),
            veins=mixed(LEAF, INK, 0.35),
        ),
        blob(points_of("66,150 76,130 104,126 134,128 166,124 166,150"), EARTH),
        strokes(lines_of("78,129 104,125 134,127 160,124"), INK, 6.4),
        strokes(lines_of("78,129 104,125 134,127 160,124"), (255, 255, 255), 4.6),
    )


def herbicide() -> Drawing:
    shoot = Shoot((36, 148), 138, -70)
    strap = small_leaf(74, 11, veins=False, bend=5)
    pale = leaves(
        shoot.leaf_places("0.5,-50,0.9 0.6,54,0.9 0.74,-34,0.75 0.82,44,0.7 1,6,0.7"),
        BLEACHED,
        strap,
        "s",
    )
    tips = Blade(shoot.at(0.3), 74, 34, 4, -12)
    bleach = tips.patch(points_of("0.55,-1.3 0.6,0 0.55,1.3 1,1 1,-1"), BLEACHED)
    other = Blade(shoot.at(0.16), 52, 40, -168, 8)
    cup = stroke(
        [other.at(0.1, -0.9), other.at(0.5, -0.5), other.at(0.9, -0.7)], INK, 1.2
    )
    return drawing(
        "New leaves with white tips, narrow like straps or cupped, on a twisted shoot.",
        150,
        other.draw(SOFT_LEAF, cup, name="c"),
        tips.draw(SOFT_LEAF, bleach),
        shoot.draw_stem(SOFT_LEAF),
        stroke(
            [
                along(shoot.at(p), 6 * (1 if n % 2 else -1), 20)
                for n, p in enumerate((0.4, 0.55, 0.7, 0.85, 1.0))
            ],
            INK,
            1,
        ),
        pale,
    )


def wilt_dry() -> Drawing:
    shoot = Shoot((78, 112), 104, -88)
    curl = small_leaf(54, 14, bend=6)
    drooping = leaves(
        shoot.leaf_places(
            "0.2,-140,1 0.3,142,1 0.45,-132,1 0.55,136,0.95 "
            "0.7,-126,0.9 0.8,130,0.85 0.96,-118,0.7 1,120,0.7"
        ),
        (134, 148, 96),
        curl,
    )
    cracks = lines_of(
        "20,126 34,132 30,144|34,132 60,130|60,130 66,144|92,128 "
        "100,138 96,146|100,138 124,134|124,134 132,144|124,134 "
        "142,128"
    )
    return drawing(
        "Dull rolled leaves hang from a shoot; the soil below is dry and cracked.",
        300,
        blob(
            points_of("-20,160 -20,120 40,122 90,119 130,122 180,118 180,160"),
            (200, 176, 140),
        ),
        strokes(cracks, mixed(EARTH, INK, 0.7), 2.2),
        shoot.draw_stem(mixed(LEAF, BARK, 0.4)),
        drooping,
    )


def wilt_wet() -> Drawing:
    root = (
        stroke(points_of("-24,-6 -8,-2 6,2"), INK, 12)
        + stroke(points_of("-24,-6 -8,-2 6,2"), (120, 88, 60), 9.4)
        + stroke(points_of("4,2 14,5 24,4"), INK, 4)
        + stroke(points_of("4,2 14,5 24,4"), WHITE, 2.4)
        + strokes(lines_of("6,-3 10,-8|7,6 10,12|-2,-7 -3,-10"), (120, 88, 60), 2.2)
    )
    return drawing(
        "A tree with a thin dull yellow crown stands in wet soil; through the lens, "
        "the skin of a small root slides off its white thread.",
        3000,
        ground(120),
        puddle((70, 124), 60),
        tree((58, 122), 108, (188, 186, 92), thin=True),
        lens((126, 92), 30, 14, root),
    )


def leaf_drop() -> Drawing:
    dice = Random(11)
    fallen = [
        ((dice.uniform(6, 150), dice.uniform(116, 138)), dice.uniform(0, 360), 1.0)
        for _leaf in range(13)
    ]
    leaf = small_leaf(20, 10, veins=False)
    falling = places_of("40,78,130,1 112,90,200,1 92,104,80,1")
    return drawing(
        "A nearly bare tree; green and yellow leaves are coming down and lie all "
        "over the ground.",
        1600,
        ground(112),
        tree((78, 116), 108, LEAF, thin=True, bare=True),
        leaves(fallen[:6], LEAF, leaf),
        leaves([*fallen[6:], *falling], YELLOW, leaf, "y"),
    )


def unknown_new() -> Drawing:
    blade = Blade((16, 126), 134, 66, -38, 4)
    glass = (
        disc((98, 62), 40, (253, 250, 240), INK, 4)
        + stroke(points_of("126,92 150,120"), INK, 9)
        + stroke(points_of("126,92 150,120"), BARK, 5.5)
    )
    mark = stroke(points_of("84,50 86,36 102,32 113,42 110,56 98,64 97,76"), INK, 6)
    return drawing(
        "A lens over a leaf with a question mark in it: something that fits no "
        "other drawing.",
        110,
        blade.draw(LEAF),
        glass,
        mark,
        dots([(97, 88)], 7, INK),
    )


def fert_burn() -> Drawing:
    shoot = Shoot((80, 100), 92, -90)
    blade = Blade((80, 84), 74, 34, -20, 4)
    other = Blade((80, 70), 72, 34, -160, -4)
    rim = points_of("0.3,1.1 0.6,0.7 0.7,0.0 0.6,-0.7 0.3,-1.1 0.8,-1.5 1,0 0.8,1.5")
    dice = Random(2)
    grains = [
        (80 + dice.uniform(-32, 32), dice.uniform(96, 106)) for _grain in range(34)
    ]
    third = Blade((80, 40), 56, 26, -50, 3)
    return drawing(
        "Leaves scorched brown at edge and tip over a pot with fertiliser grains "
        "heaped against the stem.",
        320,
        pot((80, 144), 84, 46, soil=True),
        shoot.draw_stem(mixed(LEAF, BARK, 0.3), 5),
        blade.draw(LEAF, blade.patch(rim, BROWN, None), name="a"),
        other.draw(LEAF, other.patch(rim, BROWN, None), name="e"),
        third.draw(LEAF, third.patch(rim, BROWN, None), name="i"),
        ringed(grains, (4.6, INK), (3.2, WHITE)),
    )


def slow_decline() -> Drawing:
    knots = (
        "-30,-14 -14,-6 0,-2 14,2 30,4|-14,-6 -10,6 -2,14|0,-2 8,-12 18,-14|"
        "14,2 18,12 26,16"
    )
    root = strokes(lines_of(knots), INK, 5) + strokes(
        lines_of(knots), (150, 116, 80), 3
    )
    bits = dots(
        points_of("-10,6 -6,11 8,-12 13,-14 18,12 22,15 4,0 -20,-9 24,4 -2,14"),
        7,
        (70, 54, 42),
    )
    return drawing(
        "A small tree with a thin top and small leaves; through the lens, short "
        "dark feeder roots coated with soil.",
        3200,
        ground(122),
        tree((58, 124), 92, (150, 168, 92), thin=True),
        lens((124, 86), 32, 30, root, bits),
    )


def transplant_shock() -> Drawing:
    shoot = Shoot((80, 108), 100, -90)
    curl = small_leaf(48, 18, bend=5)
    return drawing(
        "A newly planted young tree with a stake: leaves cup and droop, some have "
        "fallen; its root ball is dry while the soil around it is wet.",
        700,
        shape(points_of("-4,106 164,106 164,150 -4,150"), (112, 92, 74)),
        blob(points_of("52,107 108,107 112,128 98,144 62,144 48,128"), (196, 168, 128)),
        strokes(
            lines_of("80,108 66,126 62,140|80,108 94,124 100,138|80,108 80,142"),
            BARK,
            2,
        ),
        stroke(points_of("108,20 108,128"), INK, 6),
        stroke(points_of("108,20 108,128"), (206, 176, 128), 3.6),
        stroke(points_of("80,62 94,66 108,62"), INK, 2),
        shoot.draw_stem(mixed(LEAF, BARK, 0.3), 4.5),
        leaves(
            shoot.leaf_places(
                "0.3,-138,1 0.4,140,1 0.56,-136,0.95 0.66,138,0.9 "
                "0.8,-128,0.85 0.88,132,0.8 1,-120,0.7 1,124,0.7"
            ),
            mixed(LEAF, SKY, 0.15),
            curl,
        ),
        leaves(
            places_of("26,102,76,0.8 140,102,-70,0.8"),
            YELLOW,
            small_leaf(36, 14),
            "y",
        ),
    )


def xylella_cvc() -> Drawing:
    top = Blade((8, 96), 132, 60, -32, 4)
    under = Blade((36, 136), 126, 58, -22, 4)
    spots = points_of("0.26,-0.5 0.3,0.5 0.48,-0.55 0.52,0.45 0.7,-0.4 0.72,0.5")
    yellow = "".join(
        top.patch(
            [
                (a - 0.07, b - 0.2),
                (a + 0.04, b - 0.3),
                (a + 0.09, b + 0.2),
                (a - 0.02, b + 0.35),
            ],
            (238, 216, 96),
        )
        for a, b in spots
    )
    pale = mixed(SOFT_LEAF, WHITE, 0.35)
    gum = [
        under.at(a + da, b + db)
        for a, b in spots
        for da, db in ((-0.03, -0.12), (0.03, 0.1), (0.05, -0.16))
    ]
    return drawing(
        "The same full-grown leaf twice: yellow blotches between the veins on top, "
        "and raised brown gummy spots under each of them below.",
        125,
        top.draw(LEAF, yellow, veins=mixed(LEAF, INK, 0.3)),
        under.draw(
            pale,
            ringed(gum, (6.4, INK), (5, (150, 88, 40)), (1.8, (226, 172, 110))),
            veins=mixed(pale, INK, 0.3),
            name="u",
        ),
    )


def xylella_scorch() -> Drawing:
    blade = Blade((12, 134), 160, 58, -38, 4)
    dry = points_of(
        "0.18,-1.1 0.3,-0.55 0.42,-0.7 0.54,-0.4 0.68,-0.5 "
        "0.78,0.0 0.68,0.3 0.6,0.5 0.5,0.42 0.4,0.72 0.26,1.1 "
        "0.6,1.6 1.1,0.2 0.6,-1.6"
    )
    return drawing(
        "A leaf with brown dry edges and tip; between the brown and the green runs "
        "a yellow band with a reddish line.",
        130,
        stalk(blade),
        blade.draw(
            LEAF,
            blade.patch(dry, (238, 208, 90), (238, 208, 90), 14),
            blade.patch(dry, (150, 96, 56), (172, 62, 44), 4),
            veins=mixed(LEAF, INK, 0.35),
        ),
    )


def stubborn() -> Drawing:
    shoot = Shoot((30, 146), 96, -74)
    small = small_leaf(34, 18)
    acorn = points_of(
        "112,60 126,58 138,66 142,80 138,90 142,98 136,112 "
        "124,122 112,122 100,112 94,98 98,90 94,80 98,66"
    )
    green_end = blob(points_of("80,96 118,92 156,96 150,130 86,130"), GREEN_FRUIT, None)
    return drawing(
        "A short bunchy shoot with small cupped leaves that stand up, and a fruit "
        "shaped like an acorn: thick at the stalk, thin and greenish at the flower "
        "end.",
        120,
        shoot.draw_stem(mixed(LEAF, BARK, 0.3), 5),
        leaves(
            shoot.leaf_places(
                "0.1,-20,1 0.18,34,1 0.3,-16,1 0.38,32,1 0.5,-14,1 "
                "0.58,30,1 0.7,-12,0.95 0.78,28,0.95 0.9,-10,0.9 "
                "0.96,26,0.9 1,6,0.85"
            ),
            (124, 160, 84),
            small,
        ),
        leaves(places_of("114,60,-66,0.9 120,58,64,0.8"), DARK_LEAF, small, "d"),
        twig(points_of("116,30 118,58"), BARK, 4),
        fruit((118, 86), 26, (214, 164, 62), green_end, outline=acorn, stem=False),
    )


SIGNS = (
    winter_yellow,
    pale_growing,
    iron_young,
    zinc_manganese,
    magnesium_v,
    one_branch_yellow,
    yellow_veins,
    salt_tips,
    herbicide,
    wilt_dry,
    wilt_wet,
    leaf_drop,
    unknown_new,
    fert_burn,
    slow_decline,
    transplant_shock,
    xylella_cvc,
    xylella_scorch,
    stubborn,
)
