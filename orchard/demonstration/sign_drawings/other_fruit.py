"""Signs of stone fruit, apples and pears, figs, persimmons and pomegranates."""

from __future__ import annotations

from orchard.demonstration.brush import (
    BARK,
    GREEN_FRUIT,
    INK,
    LEAF,
    SOFT_LEAF,
    WHITE,
    Colour,
    Point,
    along,
    mixed,
)
from orchard.demonstration.sign_drawings import animals, marks
from orchard.demonstration.sign_drawings.places import (
    ground,
)
from orchard.demonstration.sign_drawings.plants import (
    PALE_EARTH,
    Blade,
    Shoot,
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
    Piece,
    blob,
    disc,
    dots,
    inside,
    lines_of,
    placed,
    places_of,
    points_of,
    repeated,
    ringed,
    shape,
    smooth_ring,
    stroke,
    strokes,
)

PEACH: Colour = (240, 170, 110)
PLUM: Colour = (112, 70, 122)
APPLE: Colour = (206, 72, 54)
LONG_LEAF: Colour = (104, 146, 74)


def leaf_curl() -> Drawing:
    shoot = Shoot((36, 148), 126, -70)
    healthy = Blade(shoot.at(0.2), 84, 20, -16, 4)
    bodies = ""
    for part, angle, size in (
        (0.34, -150, 1.0),
        (0.58, -20, 1.1),
        (0.78, -140, 0.9),
        (0.98, -62, 0.9),
    ):
        at = shoot.at(part)
        turn = angle + 90
        curl = points_of(
            "0,0 -12,-10 -16,-24 -9,-32 -15,-44 -5,-52 -8,-62 4,-58 "
            "8,-48 17,-42 12,-30 18,-20 10,-8"
        )
        bumps = "".join(
            disc(spot, 4.6, (226, 104, 88), mixed(APPLE, INK, 0.4), 1)
            for spot in points_of("-6,-18 6,-24 -3,-36 6,-44 2,-12")
        )
        bodies += placed(
            blob(curl, APPLE)
            + stroke(points_of("0,0 2,-20 -2,-40 0,-54"), mixed(APPLE, INK, 0.5), 1.4)
            + bumps,
            at,
            turn,
            0.86 * size,
            1.5,
        )
    return drawing(
        "Thick red blistered leaves curled on a peach shoot beside one long flat "
        "green leaf.",
        130,
        shoot.draw_stem(mixed(LONG_LEAF, BARK, 0.5), 4),
        healthy.draw(LONG_LEAF),
        bodies,
    )


def fire_blight() -> Drawing:
    stem = points_of("60,150 64,110 70,66 82,34 102,22 120,32 122,50")
    hung = places_of(
        "66,96,150,1 68,80,-150,1 74,56,140,1 80,40,-146,0.9 "
        "98,24,170,0.9 118,30,170,0.9 122,50,186,0.8"
    )
    return drawing(
        "A blackened shoot tip bent over like a shepherd's crook; its dead leaves "
        "stay on, and sticky beads sit on the bark.",
        190,
        stroke(stem, INK, 8),
        stroke(stem[:3], mixed(LEAF, BARK, 0.5), 5.4),
        leaves(hung, (86, 62, 46), small_leaf(44, 17, bend=5)),
        leaves(places_of("60,140,-70,1 62,128,66,1"), LEAF, small_leaf(44, 24), "g"),
        ringed(
            points_of("68,112 58,118 73,74 65,86 90,32"),
            (7.4, INK),
            (5.6, (222, 160, 70)),
            (2, WHITE),
        ),
    )


def brown_rot_stone() -> Drawing:
    rings = "".join(
        ringed(
            [along((52, 78), radius, turn + radius) for turn in range(0, 360, step)],
            (6.6, (136, 112, 86)),
            (4.4, (206, 196, 178)),
        )
        for radius, step in ((8, 90), (20, 40), (32, 26))
    )
    mummy = points_of(
        "120,66 134,70 142,84 138,96 144,108 132,118 120,124 "
        "108,118 100,104 104,92 100,80 110,70"
    )
    folds = lines_of(
        "112,76 116,92 110,108|124,72 126,92 122,112|134,80 132,96 134,106"
    )
    return drawing(
        "A peach with tan rot and rings of grey-brown tufts; beside it a fruit "
        "dried to a wrinkled mummy that still hangs.",
        110,
        twig(points_of("-6,20 60,12 166,24"), BARK, 6),
        strokes(lines_of("54,14 54,40|122,20 120,66"), INK, 3),
        fruit(
            (52, 78),
            40,
            PEACH,
            disc((52, 80), 38, (176, 128, 80), None),
            rings,
            stem=False,
        ),
        blob(mummy, (92, 72, 62)),
        strokes(folds, (54, 42, 38), 2),
        dots(points_of("112,84 130,90 120,100 128,110 110,98"), 4, (176, 168, 154)),
    )


def apple_outline(centre: Point, radius: float) -> list[Point]:
    """Return points around an apple."""
    x, y = centre
    rows = points_of(
        "0,-0.86 0.28,-1.06 0.7,-1 1.06,-0.6 1.12,-0.05 0.98,0.5 "
        "0.68,0.92 0.3,1.06 0,0.98 -0.3,1.06 -0.68,0.92 -0.98,0.5 "
        "-1.12,-0.05 -1.06,-0.6 -0.7,-1 -0.28,-1.06"
    )
    return [(x + a * radius, y + b * radius) for a, b in rows]


def codling() -> Drawing:
    frass = marks.hole((48, 92), 5) + dots(
        points_of("46,96 52,98 44,101 50,104 54,94 40,97 47,108"), 4.4, (124, 78, 42)
    )
    half = (
        blob(apple_outline((0, 0), 36), APPLE)
        + blob(apple_outline((0, 0), 33), (250, 240, 206), None)
        + blob(
            points_of("0,-10 8,-2 7,10 0,16 -7,10 -8,-2"),
            (222, 200, 140),
            (170, 140, 80),
            1,
        )
        + stroke(points_of("-34,10 -22,4 -12,6 0,2 6,6"), (134, 84, 46), 9)
        + dots(points_of("-3,12 4,12"), 4, (84, 52, 34))
        + placed(
            animals.caterpillar((236, 166, 156), (110, 62, 36)), (0, 2), 10, 0.72, 1.2
        )
    )
    return drawing(
        "An apple with an entry hole and brown droppings; cut open, a pink "
        "caterpillar with a brown head in the core.",
        140,
        twig(points_of("54,18 50,44"), BARK, 4),
        leaves(places_of("54,30,60,0.9"), LEAF, small_leaf(44, 24)),
        fruit(
            (48, 80), 38, APPLE, frass, outline=apple_outline((48, 80), 38), stem=False
        ),
        placed(half, (116, 98), 0, 1.0, 1.5),
    )


def fig_mosaic() -> Drawing:
    lobes = points_of(
        "70,136 54,124 36,128 22,112 26,96 12,82 16,62 34,56 "
        "42,66 38,44 48,22 66,10 84,22 94,44 90,66 98,56 116,62 "
        "120,82 106,96 110,112 96,128 80,124"
    )
    veins = lines_of(
        "68,130 67,76 66,20|68,124 44,92 20,72|68,124 92,92 "
        "114,72|68,128 48,118 30,112|68,128 88,118 104,112|66,80 "
        "54,58|67,80 80,58|67,60 58,42|66,60 76,42"
    )
    blotches = "".join(
        blob(
            [
                (x + a * s, y + b * s)
                for a, b in points_of("-1,-0.3 -0.2,-1 0.9,-0.6 1,0.5 0.1,1 -0.8,0.6")
            ],
            (232, 218, 116),
            (168, 176, 84),
            2.4,
        )
        for x, y, s in (
            (46, 60, 10),
            (80, 36, 9),
            (98, 84, 11),
            (54, 96, 8),
            (30, 86, 8),
            (84, 104, 9),
            (64, 52, 6),
        )
    )
    fig = points_of(
        "130,84 136,80 142,86 150,104 148,122 136,130 122,122 120,104 126,92"
    )
    return drawing(
        "A lobed fig leaf mottled with yellow blotches, and a fig with rust- "
        "coloured marks.",
        230,
        stroke(points_of("66,150 68,130"), INK, 5),
        inside(
            "b",
            smooth_ring(lobes),
            LEAF,
            [blotches, strokes(veins, mixed(LEAF, WHITE, 0.5), 1.6)],
        ),
        fruit(
            (136, 106),
            16,
            (128, 130, 80),
            blob(points_of("126,100 136,96 140,108 130,114"), (172, 96, 50), None),
            blob(points_of("138,114 146,110 144,122"), (172, 96, 50), None),
            outline=fig,
            stem=False,
            name="f",
        ),
    )


def pomegranate_crack() -> Drawing:
    gap = points_of("70,40 82,58 78,78 92,94 88,114 96,132 78,128 68,108 64,84 58,64")
    seeds = points_of(
        "70,54 74,64 68,68 76,74 70,80 76,88 84,94 74,98 82,104 "
        "76,110 86,114 82,122 90,124"
    )
    crown = points_of("66,26 62,8 72,16 78,4 84,16 94,8 92,26")
    return drawing(
        "A ripe pomegranate whose rind has split wide open; the red seeds show.",
        100,
        shape(crown, (190, 66, 56)),
        fruit(
            (78, 80),
            54,
            (198, 70, 60),
            blob(gap, (246, 226, 186), INK, 2),
            ringed(
                seeds, (9.4, (110, 14, 30)), (7, (190, 24, 48)), (2, (250, 190, 190))
            ),
            stem=False,
        ),
    )


def persimmon_drop() -> Drawing:
    fruitlet = disc((0, 0), 9, GREEN_FRUIT) + shape(
        [along((0, -3), 9 if step % 2 else 4, step * 45 - 90) for step in range(8)],
        LEAF,
        INK,
        1.2,
    )
    return drawing(
        "Small green persimmons with their four-part cap lie under a young tree; "
        "one is falling from the twig.",
        330,
        ground(108, PALE_EARTH),
        twig(points_of("-4,24 70,18 164,30"), BARK, 6),
        leaves(
            places_of(
                "24,22,30,1 60,18,100,1 96,20,70,1 130,26,120,1 "
                "46,20,-40,0.9 112,24,20,0.9"
            ),
            LEAF,
            small_leaf(46, 28),
        ),
        repeated(
            "a",
            fruitlet,
            places_of(
                "44,54,0,1 92,80,30,1 24,122,60,1 50,130,-30,1 "
                "78,120,90,1 104,132,10,1 130,122,140,1 146,136,40,1 "
                "64,140,200,0.9"
            ),
        ),
        strokes(lines_of("44,30 44,44"), INK, 2),
        strokes(lines_of("90,52 91,66|98,52 98,64"), mixed(INK, WHITE, 0.5), 1.4),
    )


def powdery() -> Drawing:
    shoot = Shoot((30, 146), 128, -66)
    leaf = Blade((58, 98), 96, 46, -12, 5)
    dust = "".join(
        leaf.patch(
            [
                (a - 0.1, b - 0.2),
                (a + 0.02, b - 0.34),
                (a + 0.12, b - 0.1),
                (a + 0.1, b + 0.3),
                (a - 0.06, b + 0.26),
            ],
            (246, 246, 240),
            (206, 214, 190),
            4,
        )
        for a, b in points_of("0.24,0.1 0.42,-0.4 0.5,0.4 0.68,-0.1 0.84,0.1")
    )
    return drawing(
        "White dusty patches like flour on young leaves and on a soft shoot.",
        110,
        shoot.draw_stem(SOFT_LEAF, 4),
        leaves(
            shoot.leaf_places(
                "0.2,-60,1 0.6,-50,1 0.72,40,0.9 0.9,-30,0.8 0.98,30,0.7"
            ),
            mixed(SOFT_LEAF, WHITE, 0.7),
            small_leaf(50, 21),
        ),
        leaf.draw(SOFT_LEAF, dust, veins=mixed(LEAF, INK, 0.1)),
        dots(
            [
                shoot.at(0.3),
                shoot.at(0.34),
                shoot.at(0.5),
                shoot.at(0.55),
                shoot.at(0.8),
            ],
            4,
            WHITE,
        ),
    )


def plum_pox() -> Drawing:
    blade = Blade((8, 116), 112, 62, -52, 4)
    pale = (214, 222, 140)
    rings = "".join(
        disc(blade.at(*spot), size, None, pale, 3.4)
        for spot, size in zip(
            points_of("0.28,-0.4 0.44,0.42 0.58,-0.36 0.74,0.26"),
            (8, 10, 9, 7),
            strict=True,
        )
    )
    on_fruit = "".join(
        disc(spot, size, None, (206, 170, 190), 3.2)
        for spot, size in (((98, 78), 11), ((122, 92), 9), ((100, 106), 8))
    )
    stone = blob(
        points_of("134,116 144,112 152,122 150,134 142,142 132,136 130,126"),
        (190, 142, 92),
    ) + "".join(
        disc(spot, 4, None, (252, 244, 228), 2) for spot in points_of("140,122 143,132")
    )
    return drawing(
        "Pale rings on a plum leaf and on a plum, and white rings on the stone of "
        "an apricot.",
        95,
        blade.draw(LEAF, rings),
        twig(points_of("112,20 106,56"), BARK, 4),
        fruit((104, 88), 34, PLUM, on_fruit),
        stone,
    )


def shot_hole() -> Drawing:
    blade = Blade((14, 132), 164, 52, -38, 4)
    paper = (251, 247, 235)
    rim = (112, 50, 82)
    holes = points_of(
        "0.2,0.1 0.28,-0.5 0.36,0.4 0.5,-0.3 0.58,0.5 0.66,-0.55 0.76,0.15 0.44,0.65"
    )
    spots = points_of("0.4,-0.05 0.56,0.1 0.7,-0.2 0.84,-0.1 0.3,0.5 0.52,-0.7")
    return drawing(
        "Round holes with a purple edge in a long stone-fruit leaf, and purple- "
        "edged spots that have not fallen out yet.",
        95,
        stalk(blade),
        blade.draw(LONG_LEAF, veins=mixed(LONG_LEAF, INK, 0.3)),
        ringed(
            [blade.at(*spot) for spot in holes], (10.4, INK), (9, rim), (6.4, paper)
        ),
        ringed([blade.at(*spot) for spot in spots], (7.4, rim), (4.4, (196, 158, 110))),
    )


def apple_scab() -> Drawing:
    blade = Blade((72, 40), 84, 56, -14, 4)
    velvet = "".join(
        leaf_spot
        for leaf_spot in (
            blob(
                [
                    (
                        x + along((0, 0), 6, turn)[0],
                        y + along((0, 0), 5 + turn % 7, turn)[1],
                    )
                    for turn in range(0, 360, 45)
                ],
                (60, 66, 40),
                (96, 104, 60),
                2,
            )
            for x, y in (
                blade.at(*spot)
                for spot in points_of("0.24,-0.3 0.4,0.4 0.5,-0.4 0.68,0.2 0.76,-0.3")
            )
        )
    )
    scabs = "".join(
        blob(
            [
                (x + s * a, y + s * b)
                for a, b in points_of(
                    "-1,-0.2 -0.4,-0.9 0.5,-0.8 1,0.1 0.4,0.9 -0.6,0.7"
                )
            ],
            (66, 58, 44),
            (150, 112, 70),
            2.4,
        )
        + strokes(
            [
                [
                    (x - s * 0.6, y - s * 0.2),
                    (x, y + s * 0.1),
                    (x + s * 0.5, y - s * 0.3),
                ]
            ],
            (206, 176, 130),
            1.4,
        )
        for x, y, s in (
            (50, 84, 10),
            (76, 104, 12),
            (44, 112, 7),
            (80, 76, 6),
            (62, 124, 6),
        )
    )
    return drawing(
        "Olive-black velvety spots on an apple leaf and corky black cracked scabs "
        "on the fruit.",
        95,
        twig(points_of("70,10 64,54"), BARK, 4),
        blade.draw(LEAF, velvet),
        fruit(
            (62, 96),
            44,
            (196, 196, 92),
            scabs,
            outline=apple_outline((62, 96), 44),
            stem=False,
            name="a",
        ),
    )


def swd() -> Drawing:
    cherry = (176, 30, 46)
    threads = strokes(lines_of("56,74 60,66|57,75 63,69"), WHITE, 1.3)
    dent = disc((56, 77), 8, mixed(cherry, INK, 0.4), None) + dots([(56, 76)], 2.4, INK)
    worms = "".join(
        placed(animals.maggot(), spot, turn, 0.42, 1)
        for spot, turn in (((-6, -4), 30), ((7, 4), 150), ((-2, 10), -20))
    )
    half = (
        disc((0, 0), 24, cherry)
        + disc((0, 0), 21, (214, 74, 84), None)
        + disc((0, 0), 9, (214, 178, 130), INK, 1, 1.2)
        + worms
    )
    wing = dots(points_of("17,2 -17,2"), 6, (60, 50, 44))
    insect = animals.fly(
        (206, 152, 78),
        (196, 140, 66),
        wing,
        strokes(lines_of("-4.6,6 4.6,6|-4.4,9 4.4,9"), INK, 1.4),
    )
    return drawing(
        "A sound ripe cherry with a pin-prick and two fine threads, small white "
        "maggots in the cut flesh, and through the lens a fly with one dark spot on "
        "each wing.",
        58,
        strokes(lines_of("48,54 62,24 84,-4"), INK, 3.4),
        strokes(lines_of("48,54 62,24 84,-4"), LEAF, 1.6),
        fruit((46, 88), 34, cherry, dent, threads, stem=False),
        placed(half, (104, 116), 0, 1.15, 1.5),
        lens((128, 36), 28, 6, placed(insect, (0, -1), 15, 1.0, 1.1)),
    )


def blossom_frost() -> Drawing:
    petal = (250, 226, 226)

    def cut(x: float, y: float, heart: Colour) -> Piece:
        return (
            blob(
                [
                    (x, y),
                    (x - 22, y - 10),
                    (x - 34, y - 32),
                    (x - 20, y - 40),
                    (x - 6, y - 22),
                ],
                petal,
            )
            + blob(
                [
                    (x, y),
                    (x + 22, y - 10),
                    (x + 34, y - 32),
                    (x + 20, y - 40),
                    (x + 6, y - 22),
                ],
                petal,
            )
            + strokes(
                [
                    [(x - 5, y - 2), (x - 15, y - 34)],
                    [(x + 5, y - 2), (x + 15, y - 34)],
                    [(x - 3, y - 2), (x - 8, y - 38)],
                    [(x + 3, y - 2), (x + 8, y - 38)],
                ],
                mixed(INK, WHITE, 0.3),
                1,
            )
            + dots(
                [(x - 15, y - 34), (x + 15, y - 34), (x - 8, y - 38), (x + 8, y - 38)],
                4.6,
                (226, 176, 60),
            )
            + blob(
                [
                    (x - 13, y - 4),
                    (x + 13, y - 4),
                    (x + 9, y + 12),
                    (x, y + 18),
                    (x - 9, y + 12),
                ],
                (150, 176, 96),
            )
            + blob(
                [
                    (x - 7, y - 2),
                    (x + 7, y - 2),
                    (x + 5, y + 9),
                    (x, y + 12),
                    (x - 5, y + 9),
                ],
                heart,
                INK,
                1,
            )
            + stroke([(x, y), (x, y - 34)], heart, 3.4)
            + dots([(x, y - 36)], 6, heart)
            + stroke([(x, y + 17), (x, y + 40)], INK, 4)
        )

    flakes = repeated(
        "s",
        strokes(lines_of("0,-8 0,8|-7,-4 7,4|-7,4 7,-4"), (86, 122, 142), 1.6),
        places_of("20,24,0,1 80,20,0,0.8 76,128,0,0.8"),
    )
    return drawing(
        "Two flowers cut lengthwise: on the left the pistil in the middle is black "
        "after frost, on the right it is green and sound.",
        62,
        flakes,
        cut(42, 78, (34, 28, 26)),
        cut(118, 78, (170, 204, 110)),
    )


SIGNS = (
    leaf_curl,
    fire_blight,
    brown_rot_stone,
    codling,
    fig_mosaic,
    pomegranate_crack,
    persimmon_drop,
    powdery,
    plum_pox,
    shot_hole,
    apple_scab,
    swd,
    blossom_frost,
)
