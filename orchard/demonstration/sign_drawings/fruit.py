"""Signs of citrus fruit and flowers: rots, shape, ripeness and load."""

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
from orchard.demonstration.sign_drawings import animals, marks
from orchard.demonstration.sign_drawings.places import (
    ground,
    limb,
)
from orchard.demonstration.sign_drawings.plants import (
    LEMON,
    PALE_EARTH,
    PITH,
    Shoot,
    cut_across,
    flower,
    fruit,
    fruits,
    hanging,
    leaves,
    lemon_outline,
    round_outline,
    small_leaf,
    twig,
)
from orchard.demonstration.sign_drawings.sheet import (
    Drawing,
    drawing,
)
from orchard.demonstration.sign_drawings.strokes import (
    Piece,
    blob,
    disc,
    dots,
    lines_of,
    placed,
    places_of,
    points_of,
    repeated,
    ringed,
    stroke,
    strokes,
)


def fruit_drop() -> Drawing:
    places = points_of(
        "22,118 40,128 62,120 84,132 104,122 126,130 142,118 "
        "52,136 116,138 74,112 30,136 94,112 148,134"
    )
    small = ringed(places, (12, INK), (9.6, GREEN_FRUIT))
    larger = fruits(points_of("38,110 112,108 66,130"), 9, GREEN_FRUIT)
    top = limb(points_of("-4,22 60,14 164,26"), 6)
    hung = fruits(points_of("34,38 98,38"), 8, GREEN_FRUIT, "h")
    stalks = strokes(
        lines_of("34,20 34,30|98,18 98,30|66,16 66,24|128,22 128,31"), INK, 2
    )
    return drawing(
        "Small green fruit lie all over the ground; a few still hang on the twig "
        "above, others have left only their stalks.",
        260,
        ground(102, PALE_EARTH),
        top,
        leaves(
            places_of(
                "50,16,100,1 112,18,80,1 20,20,-20,0.9 80,15,30,0.9 140,22,40,0.9"
            ),
            LEAF,
            small_leaf(40, 17),
        ),
        stalks,
        hung,
        small,
        larger,
        strokes(
            [[(52, 50), (54, 66)], [(72, 44), (72, 66)], [(122, 52), (120, 70)]],
            mixed(INK, WHITE, 0.5),
            1.2,
        ),
    )


def fruit_split() -> Drawing:
    gap = points_of(
        "74,142 66,118 70,98 64,78 70,56 78,40 82,58 80,78 90,98 88,120 92,142"
    )
    pulp = points_of(
        "76,140 71,116 76,98 70,80 75,60 78,52 78,62 76,80 84,100 83,120 87,140"
    )
    return drawing(
        "A fruit whose rind and flesh have cracked open from the flower end upwards.",
        90,
        hanging(80, 20),
        fruit(
            (80, 80),
            58,
            ORANGE,
            blob(gap, PITH, INK, 2),
            blob(pulp, (244, 170, 62), mixed(ORANGE, INK, 0.4), 1),
        ),
    )


def brown_rot() -> Drawing:
    patch = points_of("26,86 44,70 74,74 96,66 124,84 142,96 130,140 60,150 20,130")
    splash = lines_of(
        "24,128 20,118 14,116|132,126 140,114 148,114|56,132 54,126|104,132 108,124"
    )
    return drawing(
        "A low fruit near wet soil, leather-brown and firm on its lower side, with "
        "no powder; drops splash up from the ground.",
        120,
        ground(128),
        hanging(80, 30),
        fruit(
            (80, 74),
            46,
            ORANGE,
            blob(patch, (122, 80, 44), mixed(ORANGE, BROWN, 0.5), 7),
        ),
        strokes(splash, (96, 134, 150), 2),
        dots(points_of("14,112 148,110 30,116 126,112 54,122"), 4, (96, 134, 150)),
    )


def mould_fruit() -> Drawing:
    dice = Random(3)
    green, blue = (92, 116, 88), (96, 124, 150)
    grains = [
        along((94, 92), 26 * dice.random() ** 0.5, dice.uniform(0, 360))
        for _g in range(46)
    ]
    return drawing(
        "A soft fruit covered with green powder inside a white rim; the fruit that "
        "touches it has a patch of blue powder.",
        130,
        fruit(
            (112, 62),
            38,
            mixed(ORANGE, YELLOW, 0.2),
            disc((126, 64), 21, WHITE, (196, 150, 90), 3),
            disc((126, 64), 14, blue, None),
            dots(
                points_of("120,62 126,56 132,64 126,70 124,64 131,70 134,58"),
                2.4,
                mixed(blue, WHITE, 0.5),
            ),
        ),
        fruit(
            (62, 92),
            46,
            ORANGE,
            blob(
                points_of("24,84 40,58 70,52 100,64 112,96 96,130 60,136 30,122"),
                mixed(ORANGE, BROWN, 0.5),
                None,
            ),
            blob(
                points_of("32,88 46,64 70,60 94,72 100,98 86,122 60,126 38,112"),
                WHITE,
                None,
            ),
            blob(
                points_of("42,90 52,74 70,70 86,80 90,98 78,112 60,114 46,106"),
                green,
                None,
            ),
            dots([(x - 28, y) for x, y in grains], 2.6, mixed(green, WHITE, 0.35)),
            dots([(x - 26, y + 2) for x, y in grains[::2]], 2, mixed(green, INK, 0.4)),
            name="a",
        ),
        stroke(points_of("44,141 62,143 84,141"), mixed(BROWN, INK, 0.2), 3),
    )


def core_rot() -> Drawing:
    rot = blob(
        points_of("-6,40 -10,18 -7,0 -3,-14 3,-22 7,-6 9,12 6,40"), (40, 32, 30), None
    )
    edge = blob(
        points_of("-14,40 -17,16 -12,-4 -5,-22 4,-30 12,-8 16,14 14,40"),
        mixed(ORANGE, BROWN, 0.65),
        None,
    )
    half = _cut_along((108, 78), 42, edge, rot)
    navel = disc((46, 104), 11, mixed(ORANGE, INK, 0.25), INK, 1.4) + strokes(
        lines_of("46,95 44,104 48,112|38,102 46,104 54,102"), INK, 1.3
    )
    return drawing(
        "An early orange navel; cut lengthwise, a black streak runs from the navel "
        "into the core.",
        135,
        fruit((44, 72), 42, ORANGE, navel),
        half,
    )


def _cut_along(
    centre: tuple[float, float],
    radius: float,
    *pieces: Piece,
    rind: tuple[int, int, int] = ORANGE,
    flesh: tuple[int, int, int] | None = None,
) -> Piece:
    """Draw a citrus fruit cut lengthwise, stem end up."""
    pulp = flesh or mixed(rind, WHITE, 0.25)
    r = radius
    halves = "".join(
        blob(
            [
                (side * r * a, r * b)
                for a, b in (
                    (0.08, -0.6),
                    (0.4, -0.76),
                    (0.78, -0.42),
                    (0.86, 0.0),
                    (0.78, 0.42),
                    (0.4, 0.76),
                    (0.08, 0.62),
                )
            ],
            pulp,
            mixed(pulp, INK, 0.35),
            1,
        )
        for side in (-1, 1)
    )
    lines = strokes(
        [
            [
                (side * r * 0.14, r * y),
                (side * r * 0.5, r * y * 1.1),
                (side * r * 0.76, r * y * 1.2),
            ]
            for side in (-1, 1)
            for y in (-0.34, -0.08, 0.18, 0.4)
        ],
        mixed(pulp, INK, 0.22),
        0.9,
    )
    return placed(
        disc((0, 0), r, rind)
        + disc((0, 0), r * 0.94, PITH, None)
        + halves
        + lines
        + "".join(pieces)
        + dots([(0, -r * 0.99)], 6, DARK_LEAF),
        centre,
    )


def granulated() -> Drawing:
    dry = (242, 232, 200)
    top = blob(
        points_of("-36,-8 -22,-14 0,-10 22,-15 36,-6 30,-36 0,-44 -30,-36"),
        dry,
        mixed(dry, BROWN, 0.5),
        1.2,
    )
    grains = lines_of(
        "-24,-20 -14,-22|-10,-18 -4,-24|8,-20 16,-18|20,-24 "
        "27,-18|-20,-30 -10,-32|6,-30 14,-31|-28,-14 "
        "-20,-14|24,-12 30,-14"
    )
    return drawing(
        "A fruit cut lengthwise: the flesh near the stem end is pale, dry and "
        "woody, the flower end still juicy.",
        92,
        placed(
            _cut_along((0, 0), 46, top, strokes(grains, (178, 150, 98), 2)),
            (80, 74),
            0,
            1.35,
        ),
    )


def creasing() -> Drawing:
    grooves = lines_of(
        "48,44 58,56 54,72 62,88|78,34 86,50 82,66 92,82 "
        "90,98|104,48 112,62 108,80|44,92 58,100 72,98 "
        "84,108|96,104 108,98 120,104|66,116 80,124 96,120"
    )
    dark = mixed(ORANGE, INK, 0.55)
    return drawing(
        "Sunken grooves run over the rind of an otherwise sound fruit, like creases "
        "in a cushion.",
        92,
        hanging(80, 20),
        fruit(
            (80, 80),
            56,
            ORANGE,
            strokes(
                [[(x + 2.4, y + 2) for x, y in row] for row in grooves],
                mixed(ORANGE, WHITE, 0.4),
                4,
            ),
            strokes(grooves, dark, 3.6),
        ),
    )


def regreen() -> Drawing:
    top = blob(
        points_of("20,84 40,74 60,84 80,70 104,82 122,70 144,80 140,10 20,10"),
        (82, 122, 58),
        (164, 132, 52),
        8,
    )
    return drawing(
        "A well-shaped ripe orange that turns green again from the stem end.",
        95,
        hanging(80, 18),
        fruit((80, 80), 58, ORANGE, top),
    )


def overripe() -> Drawing:
    fallen = fruits(points_of("24,124 84,124 140,124"), 12, mixed(ORANGE, BROWN, 0.5))
    rotten = fruits(points_of("54,132 112,133"), 12, mixed(ORANGE, BROWN, 0.85), "r")
    hung = fruits(points_of("38,62 66,70 98,66 126,58 82,44"), 12, ORANGE, "h")
    wasp = placed(animals.fly((60, 50, 40), YELLOW, eye=INK), (98, 106), 40, 0.42, 1)
    return drawing(
        "Ripe fruit hang low and lie brown and soft on the ground, with insects about.",
        480,
        ground(112, PALE_EARTH),
        blob(
            points_of("-10,-10 170,-10 160,44 132,62 104,52 80,66 50,56 26,66 0,44"),
            DARK_LEAF,
        ),
        hung,
        fallen,
        rotten,
        wasp,
    )


def young_crop() -> Drawing:
    shoot = Shoot((78, 128), 112, -92)
    return drawing(
        "A very young tree on its stake that carries fruit almost too heavy for it.",
        500,
        ground(126),
        stroke(points_of("98,30 98,136"), INK, 5.4),
        stroke(points_of("98,30 98,136"), (206, 176, 128), 3),
        stroke(points_of("78,76 88,80 98,76"), INK, 2),
        shoot.draw_stem(BARK, 3.6),
        leaves(
            shoot.leaf_places(
                "0.3,-70,1 0.4,66,1 0.52,-60,1 0.64,56,0.95 0.76,-48,0.9 "
                "0.88,40,0.8 1,-6,0.8"
            ),
            LEAF,
            small_leaf(40, 17),
        ),
        strokes(lines_of("74,70 58,74|74,52 88,58"), INK, 2),
        fruits(points_of("56,86 90,68 62,52"), 10.5, ORANGE),
    )


def heavy_load() -> Drawing:
    branch = points_of("28,30 56,22 92,32 120,64 134,104")
    spots = points_of("66,48 84,58 104,72 98,94 120,96 116,118 134,122 76,74")
    return drawing(
        "A limb bent down low by a heavy cluster of fruit, with a first crack where "
        "it leaves the trunk.",
        640,
        ground(132),
        limb(points_of("18,150 22,90 24,-10"), 17),
        limb(branch, 9),
        strokes(lines_of("34,20 38,28 34,34 40,38"), INK, 2.4),
        leaves(
            places_of(
                "60,22,-20,1 92,30,20,1 114,54,50,1 128,84,80,1 "
                "76,26,130,0.9 104,44,170,0.9"
            ),
            LEAF,
            small_leaf(32, 14),
        ),
        fruits(spots, 9, ORANGE),
        marks.arrow((62, 96), (62, 124)),
    )


def bloom_none() -> Drawing:
    def branch(x: float) -> Shoot:
        return Shoot((x, 146), 122, -86)

    bare, full = branch(34), branch(112)
    text = "0.2,-58,1 0.32,56,1 0.46,-52,1 0.58,50,1 0.72,-44,0.9 0.82,40,0.85 1,0,0.8"
    blooms = [
        ((x, y), 0.0, 1.0)
        for x, y in points_of("98,112 132,98 102,78 134,66 106,46 126,30")
    ]
    return drawing(
        "On the left a twig in mid-spring with leaves only; on the right, for "
        "comparison, one in flower.",
        260,
        bare.draw_stem(BARK, 4),
        leaves(bare.leaf_places(text), LEAF, small_leaf(34, 15), "a"),
        full.draw_stem(BARK, 4),
        leaves(full.leaf_places(text), LEAF, small_leaf(34, 15), "e"),
        repeated("q", flower((0, 0), 11), blooms),
        stroke(points_of("80,10 80,136"), mixed(INK, WHITE, 0.6), 1),
    )


def prays_flowers() -> Drawing:
    worm = placed(animals.caterpillar((134, 140, 84), BROWN), (92, 66), -24, 1.05, 1.2)
    silk = marks.web(
        lines_of(
            "44,46 76,58 110,44|50,78 84,72 120,84|62,30 70,60 "
            "60,92|104,30 96,64 112,98|40,62 66,70 98,58 126,64"
        )
    )
    buds = "".join(
        blob(
            [
                (x - 8, y + 8),
                (x - 9, y - 4),
                (x - 3, y - 16),
                (x + 3, y - 16),
                (x + 9, y - 4),
                (x + 8, y + 8),
            ],
            WHITE,
        )
        + blob([(x - 8, y + 6), (x, y + 3), (x + 8, y + 6), (x, y + 13)], SOFT_LEAF)
        for x, y in points_of("34,92 130,100")
    )
    return drawing(
        "Flowers and buds stuck together with silk; a bud has a hole and a green- "
        "brown caterpillar creeps over the petals.",
        38,
        twig(points_of("80,150 82,118 78,96"), SOFT_LEAF, 6),
        strokes(lines_of("80,128 54,112 36,104|82,122 110,116 128,112"), INK, 4),
        buds,
        flower((58, 58), 32, (252, 246, 232), name="p"),
        flower((106, 56), 32, WHITE, turn=20, name="q"),
        silk,
        disc((129, 92), 3.6, INK, None),
        worm,
    )


def frost_fruit() -> Drawing:
    dry = blob(
        points_of("-38,-34 0,-46 38,-34 30,-2 14,10 0,4 -14,10 -30,-2"),
        (244, 232, 190),
        None,
    )
    hollow = "".join(
        blob(
            [(side * 8, -24), (side * 22, -30), (side * 30, -16), (side * 18, -6)],
            (206, 172, 104),
            INK,
            0.8,
        )
        for side in (-1, 1)
    )
    crystals = dots(
        points_of(
            "-14,-34 -4,-26 -6,-12 5,-18 4,-32 15,-35 -22,-10 22,-8 "
            "-12,2 12,2 -30,-22 31,-24"
        ),
        2.6,
        WHITE,
    )
    flakes = repeated(
        "s",
        strokes(lines_of("0,-9 0,9|-8,-4 8,4|-8,4 8,-4"), (86, 122, 142), 1.6),
        places_of("16,22,0,1 144,26,0,0.8 18,124,0,0.8"),
    )
    return drawing(
        "A fruit cut lengthwise after frost: segments dry, pale and hollow from the "
        "stem end, with white crystals on the skins between them.",
        92,
        flakes,
        placed(_cut_along((0, 0), 46, dry, hollow, crystals), (80, 74), 0, 1.35),
    )


def bud_mite() -> Drawing:
    fingers = points_of(
        "84,48 98,34 104,46 116,44 112,60 122,72 116,84 124,100 "
        "114,106 112,124 100,116 96,134 84,122 74,136 68,118 "
        "54,124 54,104 46,92 54,76 52,58 64,54 68,38 78,46"
    )
    creases = lines_of(
        "84,52 86,80 84,112|70,56 68,84 72,112|100,58 102,84 "
        "98,108|58,76 60,98|112,76 110,98"
    )
    return drawing(
        "A sound yellow lemon grown into fingers and folds instead of its normal "
        "shape, shown small beside it.",
        105,
        twig(points_of("84,8 84,46"), BARK, 4),
        leaves(
            places_of("84,42,66,0.9 82,42,-66,0.8"),
            DARK_LEAF,
            small_leaf(50, 20),
        ),
        fruit(
            (84, 86),
            36,
            LEMON,
            strokes(creases, mixed(LEMON, INK, 0.4), 1.8),
            outline=fingers,
            stem=False,
            name="a",
        ),
        fruit(
            (130, 26),
            14,
            LEMON,
            outline=lemon_outline((130, 26), 14),
            stem=False,
            name="b",
        ),
    )


def false_codling() -> Drawing:
    ring = ringed(
        [(60, 86)], (26, mixed(ORANGE, BROWN, 0.55)), (15, (120, 70, 36)), (6, INK)
    )
    frass = dots(points_of("60,92 56,96 64,97 59,101 66,92"), 3.6, (110, 74, 44))
    tunnel = stroke(points_of("-24,16 -8,10 4,-4 22,-10"), (132, 84, 44), 10)
    worm = placed(
        animals.caterpillar((228, 150, 140), (120, 70, 40), length=30),
        (2, 2),
        -24,
        0.72,
        1.2,
    )
    return drawing(
        "A fruit with a small hole in a brown stained ring; cut open, a pinkish "
        "caterpillar with a brown head and legs.",
        125,
        hanging(54, 30, size=0.8),
        fruit((52, 76), 44, mixed(ORANGE, YELLOW, 0.3), ring, frass),
        cut_across((116, 100), 38, tunnel, worm),
    )


def fruit_sunburn() -> Drawing:
    sun = disc((140, 20), 13, (240, 190, 60)) + strokes(
        [
            [along((140, 20), 17, turn), along((140, 20), 24, turn)]
            for turn in range(80, 230, 30)
        ],
        INK,
        2,
    )
    flat = points_of("96,40 112,44 128,62 132,84 120,96 104,86 94,66")
    outline = round_outline((76, 84), 52)
    outline[14] = (110, 46)
    outline[15] = (118, 64)
    return drawing(
        "A fruit with one flat, leathery, pale to brown patch on the side that "
        "faces the sun.",
        95,
        sun,
        hanging(76, 30, size=0.9),
        fruit(
            (76, 84),
            52,
            ORANGE,
            blob(flat, (206, 170, 110), (232, 196, 120), 5),
            blob(
                [(x + (112 - x) * 0.45, y + (70 - y) * 0.45) for x, y in flat],
                (140, 92, 56),
                None,
            ),
            outline=outline,
        ),
    )


SIGNS = (
    fruit_drop,
    fruit_split,
    brown_rot,
    mould_fruit,
    core_rot,
    granulated,
    creasing,
    regreen,
    overripe,
    young_crop,
    heavy_load,
    bloom_none,
    prays_flowers,
    frost_fruit,
    bud_mite,
    false_codling,
    fruit_sunburn,
)
