"""Signs of trunk, limb, root, pot and place, and what weather does to bark and leaf."""

from __future__ import annotations

from random import Random

from orchard.demonstration.brush import (
    BARK,
    BROWN,
    DARK_BARK,
    DARK_LEAF,
    EARTH,
    INK,
    LEAF,
    MULCH,
    ORANGE,
    SOFT_LEAF,
    STRAW,
    WHITE,
    YELLOW,
    Point,
    along,
    mixed,
)
from orchard.demonstration.sign_drawings import animals, marks
from orchard.demonstration.sign_drawings.places import (
    GRASS,
    grass,
    ground,
    limb,
    mulch,
    puddle,
    tree,
    trunk,
)
from orchard.demonstration.sign_drawings.plants import (
    PALE_BARK,
    PITH,
    Shoot,
    big_leaf,
    fruits,
    leaves,
    small_leaf,
    stalk,
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
    shape,
    stroke,
    strokes,
)


def _shoot_of_three(
    foot: Point, length: float, angle: float, name: str, *, thorns: bool = True
) -> Piece:
    """Draw a strong shoot with leaves in three parts, and long thorns."""
    shoot = Shoot(foot, length, angle)
    part = small_leaf(22, 9, veins=False)
    places = []
    for number in range(6):
        at = shoot.at(0.22 + 0.14 * number)
        turn = angle + 90 + (62 if number % 2 else -62)
        for more, size in ((-36, 0.75), (0, 1.0), (36, 0.75)):
            places.append((at, turn + more, size))
    spikes = [
        [
            shoot.at(0.15 + 0.14 * number),
            along(
                shoot.at(0.15 + 0.14 * number), 11, angle + (-64 if number % 2 else 64)
            ),
        ]
        for number in range(6)
    ]
    return (
        shoot.draw_stem(SOFT_LEAF, 3.4)
        + (strokes(spikes, INK, 1.5) if thorns else "")
        + leaves(places, SOFT_LEAF, part, name)
    )


def sucker() -> Drawing:
    return drawing(
        "A strong thorny shoot with leaves in three parts starts on the trunk below "
        "the graft line; the tree's own leaves above are in one part.",
        420,
        mulch(126),
        trunk((64, 130), 140, 40, graft=62),
        leaves(
            places_of("52,18,-80,1 78,14,70,1 54,40,-100,0.9"),
            DARK_LEAF,
            small_leaf(38, 17),
        ),
        _shoot_of_three((82, 108), 104, -58, "s"),
    )


def rootstock_takeover() -> Drawing:
    return drawing(
        "Thorny shoots with leaves in three parts have grown from below the graft "
        "line past a dead grey stump; their fruit is small and round.",
        600,
        ground(128),
        trunk((76, 132), 70, 26, fill=(156, 150, 140), graft=26),
        strokes(lines_of("74,64 70,54 74,46|80,64 86,52"), INK, 6),
        strokes(lines_of("74,64 70,54 74,46|80,64 86,52"), (156, 150, 140), 3.6),
        _shoot_of_three((64, 116), 108, -104, "s"),
        _shoot_of_three((90, 118), 110, -66, "r"),
        fruits(points_of("32,56 118,50 128,76"), 6, (226, 190, 70)),
    )


def water_sprout() -> Drawing:
    sprout = Shoot((84, 76), 76, -90)
    return drawing(
        "A straight fast shoot with large leaves pushes up through the crown of a "
        "tree, from above the graft line.",
        1900,
        ground(134),
        tree((76, 138), 108, DARK_LEAF),
        strokes(lines_of("70,127 76,125 84,127"), INK, 2),
        sprout.draw_stem(SOFT_LEAF, 3),
        leaves(
            sprout.places(9, low=0.08, spread=52, size=1.0),
            SOFT_LEAF,
            small_leaf(26, 11, veins=False),
        ),
    )


def trimmer_wound() -> Drawing:
    wound = points_of(
        "44,108 58,100 82,104 104,98 118,106 112,122 92,118 70,124 50,120"
    )
    return drawing(
        "Bark torn off flat low on the trunk at the height of the grass, with old "
        "and new nicks.",
        300,
        ground(132),
        trunk(
            (80, 136),
            150,
            66,
            blob(wound, (232, 206, 160), DARK_BARK, 2.4),
            strokes(
                lines_of("58,108 64,116|74,106 78,118|92,106 94,114|104,104 108,112"),
                BROWN,
                1.8,
            ),
            strokes(lines_of("60,92 78,90|88,88 104,86"), (90, 66, 48), 3),
        ),
        grass((14, 30, 44, 122, 136, 150), 136, 26),
    )


def tie_girdle() -> Drawing:
    left = points_of("54,150 56,110 52,92 50,80 64,72 56,60 56,30 58,-6")
    right = points_of("104,-6 104,30 104,60 94,72 110,80 108,92 104,110 106,150")
    tie = points_of("62,70 80,75 96,70")
    return drawing(
        "A tie has sunk into the bark and left a waist; the wood swells above and "
        "below it.",
        120,
        shape(
            [
                *left,
                *reversed(
                    points_of(
                        "106,150 104,110 108,92 110,80 94,72 104,60 104,30 104,-6"
                    )
                ),
            ],
            BARK,
            None,
        ),
        stroke(left, INK, 2),
        stroke(right, INK, 2),
        strokes(
            lines_of(
                "66,10 68,30|88,16 86,40|74,46 76,58|70,96 68,124|90,90 "
                "92,112|80,110 80,140"
            ),
            mixed(BARK, INK, 0.4),
            1.4,
        ),
        stroke(tie, INK, 7),
        stroke(tie, (90, 132, 160), 4.4),
        stroke(points_of("94,72 112,62 122,70 112,78"), INK, 5),
        stroke(points_of("94,72 112,62 122,70 112,78"), (90, 132, 160), 2.8),
        stroke(points_of("138,150 138,20"), INK, 9),
        stroke(points_of("138,150 138,20"), (206, 176, 128), 6.4),
    )


def broken_branch() -> Drawing:
    torn = points_of("84,58 92,66 100,62 104,72 112,76 106,88 96,96 88,84 78,78")
    return drawing(
        "A limb torn from the trunk hangs down with its leaves; the split wood is "
        "pale and splintered.",
        900,
        ground(134),
        limb(points_of("60,150 62,90 66,40 72,-8"), 24),
        limb(points_of("66,74 40,48 22,20"), 12),
        limb(points_of("98,78 116,100 128,126"), 13),
        shape(torn, (236, 212, 164), INK, 1.6),
        strokes(lines_of("84,64 94,82|90,68 100,84|98,70 104,80"), BROWN, 1.4),
        leaves(
            places_of(
                "118,102,110,1 124,114,60,1 128,126,150,1 110,94,170,0.9 "
                "130,124,100,0.9"
            ),
            mixed(LEAF, YELLOW, 0.3),
            small_leaf(34, 15),
        ),
        leaves(
            places_of("30,34,-40,1 22,22,20,1 36,44,-90,0.9"),
            LEAF,
            small_leaf(34, 15),
            "g",
        ),
    )


def leaning() -> Drawing:
    return drawing(
        "A tree that leans over and rocks: the soil has cracked and lifted on one "
        "side of its foot.",
        2600,
        ground(126),
        placed(tree((0, 0), 116, LEAF), (70, 130), 22, 1.0, 1.5),
        blob(points_of("30,134 36,120 52,114 66,120 70,132"), mixed(EARTH, INK, 0.15)),
        strokes(lines_of("34,128 44,122 50,130 60,124|24,134 32,128 38,134"), INK, 2),
        strokes(lines_of("112,20 126,28 134,40|134,40 134,31|134,40 126,38"), INK, 2.2),
        stroke(points_of("70,130 70,10"), mixed(INK, WHITE, 0.6), 1),
    )


def conk_base() -> Drawing:
    def shelf(x: float, y: float, width: float) -> Piece:
        return (
            blob(
                [
                    (x, y - 4),
                    (x + width * 0.5, y - 10),
                    (x + width, y - 3),
                    (x + width * 0.98, y + 4),
                    (x + width * 0.4, y + 7),
                    (x, y + 5),
                ],
                (176, 116, 62),
            )
            + strokes(
                [
                    [
                        (x + 3, y + 3.5),
                        (x + width * 0.5, y + 4.4),
                        (x + width * 0.94, y + 2),
                    ]
                ],
                (244, 232, 206),
                3,
            )
            + strokes(
                [[(x + 4, y - 3), (x + width * 0.5, y - 6), (x + width * 0.9, y - 1)]],
                (120, 72, 40),
                1.2,
            )
        )

    return drawing(
        "Hard brackets like shelves grow from the base of a trunk, brown above with "
        "a pale rim below.",
        420,
        ground(130),
        trunk((66, 134), 150, 62),
        shelf(84, 108, 46),
        shelf(80, 86, 36),
        shelf(16, 116, 30),
    )


def gummosis() -> Drawing:
    wet = points_of("54,128 52,104 60,84 74,78 90,86 98,104 96,128 80,134 64,134")
    return drawing(
        "A dark gum-soaked patch low on the trunk near the soil: bark cracked and "
        "falling, brown dead tissue beneath, drops of gum.",
        320,
        ground(130),
        trunk(
            (76, 134),
            150,
            62,
            blob(wet, (66, 46, 36), (92, 64, 46), 4),
            blob(
                points_of("64,116 66,100 76,94 86,104 84,118 74,122"),
                (150, 92, 48),
                INK,
                1.4,
            ),
            strokes(
                lines_of("58,100 64,108 60,120|92,94 88,104 94,116|72,82 74,92"),
                INK,
                1.4,
            ),
            graft=76,
            fill=PALE_BARK,
        ),
        marks.gum_drop((60, 90), 4.4, run=12),
        marks.gum_drop((94, 98), 4.2, run=16),
        marks.gum_drop((76, 108), 3.6, run=8),
    )


def psorosis() -> Drawing:
    flakes = ""
    for x, y, turn in (
        (60, 40, 10),
        (78, 28, -8),
        (92, 46, 14),
        (70, 62, -12),
        (88, 72, 6),
        (62, 84, 8),
        (82, 94, -10),
        (96, 96, 12),
        (72, 112, 4),
    ):
        flakes += placed(
            blob(points_of("-8,-7 2,-9 9,-4 8,5 0,9 -8,6"), (196, 172, 136), INK, 1.2)
            + stroke(points_of("-6,6 0,8 8,4"), INK, 2.2),
            (x, y),
            turn,
            1.0,
            1.4,
        )
    return drawing(
        "Dry flakes of bark lift off a limb high above the graft, over years; the "
        "bark around them is whole.",
        240,
        limb(points_of("80,150 78,90 80,40 84,-8"), 62),
        strokes(
            lines_of("54,120 54,138|104,120 106,140|56,10 56,24|106,16 106,30"),
            mixed(BARK, INK, 0.4),
            1.4,
        ),
        flakes,
        limb(points_of("112,44 138,24 166,16"), 14),
        leaves(places_of("136,26,-10,1 148,20,150,0.9"), LEAF, small_leaf(28, 12)),
    )


def dieback_sooty() -> Drawing:
    powder = points_of("44,96 52,74 70,62 92,56 110,60 104,76 84,86 66,100 52,108")
    return drawing(
        "Lifted bark on a limb with fine black powder beneath; the leaves beyond it "
        "hang dry.",
        260,
        limb(points_of("-8,136 40,104 90,68 168,26"), 44),
        blob(powder, (30, 28, 28), INK, 2),
        dots(
            points_of("58,86 70,76 84,70 96,64 62,96 78,82 92,76 104,68 50,98"),
            2,
            (96, 94, 92),
        ),
        blob(
            points_of("44,98 38,88 46,70 66,56 90,48 108,54 112,60 92,58 70,64 54,76"),
            (176, 150, 118),
            INK,
            1.6,
        ),
        dots(points_of("74,112 80,120 68,124 88,112 84,130 70,134"), 2.4, (40, 38, 38)),
        stroke(points_of("122,54 130,76 132,88"), INK, 6),
        stroke(points_of("122,54 130,76 132,88"), BARK, 3.4),
        leaves(
            places_of("131,84,160,1 130,76,-150,1 132,90,190,0.9"),
            (158, 124, 76),
            small_leaf(40, 17, bend=5),
        ),
    )


def roots_exposed() -> Drawing:
    roots = lines_of(
        "70,112 48,122 22,126 4,134|76,114 66,130 50,140|86,114 "
        "98,130 118,140|92,112 116,120 138,124 158,134|80,114 "
        "82,130 80,144"
    )
    return drawing(
        "The tops of woody roots stand clear of the soil round the foot of a small "
        "tree; a dashed line shows where the soil was.",
        420,
        ground(130),
        strokes(roots, INK, 10),
        strokes(roots, BARK, 7.4),
        trunk((80, 120), 130, 30),
        '<path d="M4 104H60M100 104H156" stroke-dasharray="5 4"/>',
        marks.arrow((20, 106), (20, 120)),
        marks.arrow((140, 106), (140, 118)),
    )


def buried_trunk() -> Drawing:
    heap = points_of("-10,150 6,122 36,104 64,92 96,90 124,102 150,122 170,150")
    chips = lines_of(
        "30,118 38,114|52,106 60,108|70,100 78,98|90,104 "
        "98,100|110,112 118,114|46,126 54,122|76,118 "
        "84,122|104,126 112,122|132,124 138,128|64,134 "
        "72,132|94,136 102,134|22,134 30,132|124,138 132,136"
    )
    return drawing(
        "Mulch is heaped up like a cone round the trunk and hides its foot and its "
        "graft line.",
        420,
        ground(134),
        trunk((80, 142), 160, 40, graft=52),
        blob(heap, MULCH, INK, 2),
        strokes(chips, mixed(MULCH, STRAW, 0.55), 2.4),
    )


def pot_rootbound() -> Drawing:
    coils = "".join(
        stroke(
            [(38 + k, y), (56, y + 6), (80, y + 8), (104, y + 6), (122 - k, y)],
            tone,
            2.6,
        )
        for k, y, tone in (
            (2, 76, (226, 206, 160)),
            (3, 84, (190, 160, 112)),
            (4, 92, (226, 206, 160)),
            (6, 100, (190, 160, 112)),
            (7, 108, (226, 206, 160)),
            (9, 116, (190, 160, 112)),
            (10, 124, (226, 206, 160)),
        )
    )
    shoot = Shoot((80, 62), 62, -90)
    return drawing(
        "A root ball lifted out of its pot: roots circle round its side from top to "
        "bottom; the tree above has small leaves.",
        340,
        shape(points_of("34,62 126,62 114,138 46,138"), (110, 84, 60)),
        coils,
        strokes(
            lines_of("56,138 54,148|74,138 76,150|98,138 94,148"), (206, 180, 130), 2.4
        ),
        shoot.draw_stem(BARK, 5),
        leaves(
            shoot.places(8, low=0.3, spread=58),
            mixed(LEAF, YELLOW, 0.25),
            small_leaf(22, 10, veins=False),
        ),
    )


def standing_water() -> Drawing:
    return drawing(
        "A wide puddle stands round the foot of a tree after the rain has gone.",
        1800,
        ground(112),
        puddle((80, 124), 74),
        trunk((80, 122), 120, 22, name="w"),
        leaves(
            places_of("70,20,-70,1 90,14,70,1 70,44,-90,0.9 90,40,90,0.9"),
            mixed(LEAF, YELLOW, 0.3),
            small_leaf(34, 15),
        ),
        strokes(lines_of("60,126 80,131 100,126|50,122 44,124"), INK, 1.4),
        dots(points_of("30,120 120,128 112,117 44,130"), 3, WHITE),
    )


def weeds_ring() -> Drawing:
    weed = leaves(
        places_of(
            "34,132,-40,1 34,132,0,1.1 34,132,40,1 122,134,-50,1 "
            "122,134,-10,1.1 122,134,34,1"
        ),
        GRASS,
        small_leaf(26, 10, veins=False),
        "w",
    )
    return drawing(
        "Grass and weeds grow right up to the trunk, inside the ring of one metre "
        "that should be bare.",
        2000,
        ground(126),
        grass((12, 26, 50, 64, 98, 112, 138, 150), 132, 24),
        trunk((80, 132), 140, 24),
        weed,
        grass((72, 90), 138, 16),
        leaves(places_of("72,14,-70,1 90,10,70,1"), LEAF, small_leaf(36, 15), "l"),
    )


def low_sun() -> Drawing:
    sun = disc((134, 24), 13, (240, 190, 60)) + strokes(
        [
            [along((134, 24), 17, turn), along((134, 24), 23, turn)]
            for turn in range(0, 360, 45)
        ],
        INK,
        2,
    )
    return drawing(
        "A thin leggy tree stands in the shadow of a wall, away from the sun.",
        5200,
        sun,
        shape(points_of("78,-6 110,-6 110,128 78,128"), (170, 160, 150)),
        strokes(
            lines_of(
                "78,20 110,20|78,46 110,46|78,72 110,72|78,98 "
                "110,98|94,-4 94,20|88,20 88,46|100,46 100,72|90,72 "
                "90,98|102,98 102,126"
            ),
            (120, 112, 104),
            1.2,
        ),
        shape(points_of("78,128 -10,128 -10,-6 40,-6"), (196, 200, 196), None),
        ground(128),
        tree((38, 130), 106, mixed(LEAF, YELLOW, 0.25), thin=True),
    )


def frost_bark() -> Drawing:
    split = points_of(
        "78,14 84,30 80,50 88,72 84,92 92,116 84,126 76,108 74,88 68,66 72,44 70,26"
    )
    flakes = repeated(
        "s",
        strokes(lines_of("0,-9 0,9|-8,-4 8,4|-8,4 8,-4"), (86, 122, 142), 1.8),
        places_of("22,26,0,1 138,40,0,0.9 20,92,0,0.8"),
    )
    return drawing(
        "A long split runs down a young trunk and the bark lifts from the wood at "
        "its edges; frost about.",
        260,
        flakes,
        ground(132),
        trunk(
            (78, 136),
            150,
            56,
            blob(split, (236, 214, 168), INK, 2),
            strokes(lines_of("76,36 78,60 80,88 84,110"), BROWN, 1.4),
        ),
        blob(points_of("72,44 62,46 60,60 68,66"), (176, 148, 116), INK, 1.2),
        blob(points_of("84,92 96,92 96,108 90,112"), (176, 148, 116), INK, 1.2),
    )


def bark_sunburn() -> Drawing:
    sun = disc((136, 22), 14, (240, 190, 60)) + strokes(
        [
            [along((136, 22), 18, turn), along((136, 22), 26, turn)]
            for turn in range(90, 230, 28)
        ],
        INK,
        2,
    )
    burnt = points_of("80,26 98,20 110,40 112,70 110,100 96,112 84,104 80,80 86,56")
    return drawing(
        "Bark yellowed, cracked and flaking on the one side of the trunk that faces "
        "the afternoon sun.",
        300,
        sun,
        ground(132),
        trunk(
            (72, 136),
            150,
            56,
            blob(burnt, (226, 196, 130), (176, 140, 92), 4),
            strokes(
                lines_of("90,36 88,58 94,80 90,100|98,44 100,70 96,92|84,66 90,72"),
                INK,
                1.8,
            ),
        ),
        blob(points_of("96,54 108,52 112,64 104,74 96,68"), (196, 164, 110), INK, 1.2),
        blob(points_of("92,84 102,82 104,96 96,100"), (196, 164, 110), INK, 1.2),
    )


def leaf_sunburn() -> Drawing:
    blade = big_leaf(width=82)
    patch = [
        blade.at(*spot)
        for spot in points_of(
            "0.3,-0.2 0.4,-0.72 0.56,-0.8 0.7,-0.6 0.72,-0.2 "
            "0.62,0.14 0.46,0.16 0.36,0.1"
        )
    ]
    sun = disc((26, 24), 13, (240, 190, 60)) + strokes(
        [
            [along((26, 24), 17, turn), along((26, 24), 24, turn)]
            for turn in range(0, 130, 30)
        ],
        INK,
        2,
    )
    return drawing(
        "A bleached patch with a sharp edge, tan and dry in the middle, on the part "
        "of a leaf that faces the sun.",
        105,
        sun,
        stalk(blade),
        blade.draw(
            LEAF,
            blob(patch, (242, 234, 204), (120, 90, 56), 1.8),
            blade.patch(
                points_of(
                    "0.42,-0.1 0.46,-0.5 0.58,-0.55 0.64,-0.3 0.58,-0.05 0.48,0.02"
                ),
                (196, 158, 106),
            ),
        ),
    )


def frost_leaf() -> Drawing:
    shoot = Shoot((40, 148), 138, -64)
    flakes = repeated(
        "s",
        strokes(lines_of("0,-9 0,9|-8,-4 8,4|-8,4 8,-4"), (86, 122, 142), 1.8),
        places_of("24,28,0,1 140,78,0,0.9 128,120,0,0.7"),
    )
    return drawing(
        "Leaves at the tip of a shoot hang brown and dry after a cold night; those "
        "next to them are dark and water-soaked, the inner ones still green.",
        200,
        flakes,
        shoot.draw_stem(mixed(LEAF, BARK, 0.4), 4),
        leaves(
            shoot.leaf_places("0.12,-60,1 0.22,76,1"), LEAF, small_leaf(54, 25), "g"
        ),
        leaves(
            shoot.leaf_places("0.38,-110,1 0.48,128,1"),
            (56, 76, 58),
            small_leaf(54, 22, bend=5),
            "e",
        ),
        leaves(
            shoot.leaf_places(
                "0.62,-128,1 0.7,146,1 0.84,-140,0.9 0.9,160,0.9 1,-166,0.8 1,120,0.8"
            ),
            (150, 100, 60),
            small_leaf(50, 18, bend=8),
        ),
    )


def fast_decline() -> Drawing:
    fallen = leaves(
        places_of("20,132,70,1 44,138,20,1 118,136,100,1 142,132,50,1 96,140,60,1"),
        (170, 130, 76),
        small_leaf(16, 7, veins=False),
        "f",
    )
    return drawing(
        "A whole tree wilted at once: its leaves hang dry and brown on the twigs "
        "and its fruit hang on.",
        3200,
        ground(126),
        _drooping_tree(),
        fruits(points_of("54,62 78,44 100,66 66,86 96,90 114,56"), 5, ORANGE),
        fallen,
    )


def _drooping_tree() -> Piece:
    dice = Random(4)
    places = []
    for _leaf in range(46):
        x, y = along((80, 56), 46 * dice.random() ** 0.5, dice.uniform(0, 360))
        places.append(((x, y), 180 + dice.uniform(-26, 26), 1.0))
    wood = lines_of("80,100 60,70 46,44|80,96 98,70 114,42|80,100 80,60 78,28")
    return (
        strokes(lines_of("80,132 80,96"), INK, 13)
        + strokes(wood, INK, 7)
        + strokes(lines_of("80,132 80,96"), BARK, 10)
        + strokes(wood, BARK, 4.4)
        + leaves(places, (164, 132, 84), small_leaf(19, 7, veins=False), "d")
    )


def rodents() -> Drawing:
    half = (
        disc((124, 40), 26, ORANGE)
        + disc((124, 42), 19, (70, 44, 28), INK, 1.2, 0.9)
        + strokes(
            lines_of("106,36 110,42|142,36 138,42|116,26 118,32|132,26 130,32"), PITH, 3
        )
    )
    gnaw = points_of("26,96 40,90 60,94 76,88 84,104 70,114 50,110 34,116")
    grooves = "".join(
        strokes([[(x, 98), (x + 4, 110)], [(x + 3.4, 97), (x + 7.4, 109)]], BROWN, 1.3)
        for x in (34, 44, 54, 64, 73)
    )
    return drawing(
        "Paired tooth grooves in gnawed bark, a fresh mound of soil at the foot, "
        "and a hollow orange shell still hanging.",
        260,
        ground(130),
        twig(points_of("126,-6 124,14"), BARK, 4),
        half,
        trunk((56, 134), 150, 50, blob(gnaw, (236, 212, 166), INK, 1.8), grooves),
        blob(
            points_of("84,140 92,122 108,114 124,114 142,124 152,140"),
            mixed(EARTH, INK, 0.2),
        ),
        dots(
            points_of("104,122 116,120 126,126 98,130 112,132 136,132"),
            3.4,
            mixed(EARTH, WHITE, 0.25),
        ),
        disc((118, 132), 6, INK, None, None, 0.6),
    )


def longhorn_hole() -> Drawing:
    spots = dots(points_of("-4,2 3,0 -3,8 4,7 -4,13 3,14"), 2.4, WHITE)
    pencil = shape(points_of("8,104 44,100 44,108 8,112"), (230, 180, 60)) + shape(
        points_of("44,100 54,104.4 44,108"), (240, 216, 176)
    )
    return drawing(
        "A clean round hole as wide as a pencil low on the trunk with coarse "
        "sawdust heaped below, and a large black beetle with white spots and banded "
        "feelers.",
        150,
        ground(130),
        trunk((92, 134), 150, 62, fill=PALE_BARK),
        marks.hole((84, 103), 6.2),
        marks.sawdust((84, 134), 44, 16),
        dots(points_of("82,112 86,116 80,120 88,122"), 2.2, marks.DUST),
        pencil,
        placed(
            animals.beetle((30, 30, 36), spots, feeler=24, banded=True),
            (98, 50),
            20,
            1.15,
            1.4,
        ),
    )


def sawdust_hole() -> Drawing:
    return drawing(
        "A small round hole in the bark with fresh fine sawdust and pellets below "
        "it and a little sap.",
        70,
        ground(126),
        limb(points_of("80,160 80,70 82,-16"), 74, PALE_BARK),
        strokes(
            lines_of(
                "54,10 54,34|104,20 104,44|60,120 60,138|100,110 100,134|56,60 58,76"
            ),
            mixed(BARK, INK, 0.4),
            1.6,
        ),
        marks.gum_drop((88, 56), 5, run=18),
        marks.hole((80, 50), 5, rim=(206, 170, 120)),
        ground(132),
        marks.sawdust((78, 132), 54, 26),
        dots(points_of("78,62 82,68 76,70 80,76"), 3, marks.DUST),
    )


def crown_gall() -> Drawing:
    knob = points_of(
        "48,128 40,116 46,102 58,96 66,100 76,92 90,96 102,92 "
        "112,102 118,114 112,128 100,136 80,132 62,138"
    )
    return drawing(
        "A rough corky knob on the trunk at the soil line.",
        320,
        ground(124),
        trunk((80, 132), 150, 44),
        blob(knob, (164, 128, 86), INK, 2),
        "".join(
            blob(
                [
                    (x - 8, y),
                    (x - 2, y - 7),
                    (x + 6, y - 5),
                    (x + 7, y + 4),
                    (x, y + 7),
                ],
                (190, 152, 106),
                INK,
                1.3,
            )
            for x, y in points_of("58,110 76,104 96,106 68,122 88,120 106,118")
        ),
        ground(134),
    )


def gum_stone() -> Drawing:
    return drawing(
        "Beads of amber gum on the bark of a limb, above a patch of sunken dark bark.",
        110,
        limb(points_of("-10,120 60,86 168,40"), 52, PALE_BARK),
        blob(
            points_of("40,100 56,80 84,70 100,72 92,88 68,102"),
            (74, 54, 44),
            (110, 84, 66),
            3,
        ),
        strokes(
            lines_of("20,108 34,102|112,50 128,46|120,72 140,64|8,128 20,124"),
            mixed(BARK, INK, 0.4),
            1.6,
        ),
        marks.gum_drop((60, 86), 7, run=4),
        marks.gum_drop((80, 80), 9, run=10),
        marks.gum_drop((96, 76), 6),
        marks.gum_drop((48, 98), 5, run=2),
    )


def exocortis() -> Drawing:
    strips = "".join(
        blob(
            [
                (x, y),
                (x + 6, y - 2),
                (x + 8, y + tall * 0.6),
                (x + 4, y + tall),
                (x - 2, y + tall * 0.6),
            ],
            (190, 164, 126),
            INK,
            1.2,
        )
        for x, y, tall in (
            (46, 84, 34),
            (60, 78, 40),
            (74, 88, 34),
            (88, 80, 38),
            (100, 92, 30),
            (66, 112, 20),
            (92, 114, 18),
        )
    )
    return drawing(
        "Below the graft line the bark dries, cracks and lifts in thin upright "
        "strips; above the line it is sound.",
        280,
        ground(132),
        trunk((78, 136), 150, 62, graft=64),
        strips,
        marks.gum_drop((84, 112), 3.6),
        leaves(places_of("54,20,-80,1 100,16,70,1"), LEAF, small_leaf(36, 16), "l"),
    )


def armillaria() -> Drawing:
    def mushroom(x: float, y: float, size: float) -> Piece:
        return (
            stroke([(x, y), (x + 1, y - size * 1.3)], INK, size * 0.55)
            + stroke([(x, y), (x + 1, y - size * 1.3)], (236, 214, 164), size * 0.3)
            + blob(
                [
                    (x - size, y - size * 1.2),
                    (x - size * 0.7, y - size * 1.9),
                    (x + 1, y - size * 2.2),
                    (x + size * 0.8, y - size * 1.9),
                    (x + size * 1.1, y - size * 1.2),
                    (x, y - size),
                ],
                (214, 160, 66),
            )
            + dots(
                [(x - size * 0.3, y - size * 1.7), (x + size * 0.3, y - size * 1.5)],
                1.6,
                (130, 84, 34),
            )
        )

    sheet_points = points_of("48,124 50,100 58,82 70,76 78,90 76,112 66,128")
    return drawing(
        "Bark peeled back at the collar shows a white sheet over the wood; a "
        "cluster of honey-coloured mushrooms stands at the foot.",
        340,
        ground(130),
        trunk(
            (66, 134),
            150,
            54,
            blob(sheet_points, (252, 250, 242), INK, 1.6),
            strokes(
                lines_of("56,96 60,110 58,122|64,84 68,100 66,116|72,92 72,106"),
                (206, 204, 192),
                1.6,
            ),
        ),
        blob(
            points_of("48,124 38,118 36,98 46,84 52,92 50,108"),
            (176, 146, 112),
            INK,
            1.4,
        ),
        "".join(
            mushroom(x, y, size)
            for x, y, size in (
                (102, 138, 9),
                (116, 140, 11),
                (130, 138, 8),
                (110, 134, 6),
                (144, 139, 7),
            )
        ),
    )


def lichen() -> Drawing:
    dice = Random(3)
    patches = ""
    for x, y, size, tone in (
        (58, 40, 13, (166, 186, 160)),
        (92, 30, 10, (190, 204, 180)),
        (78, 72, 15, (166, 186, 160)),
        (100, 92, 10, (222, 160, 60)),
        (56, 100, 11, (190, 204, 180)),
        (84, 112, 8, (166, 186, 160)),
    ):
        outline = [
            along(
                (x, y),
                size * (1.12 if step % 2 else 0.8) * dice.uniform(0.9, 1.1),
                step * 30,
            )
            for step in range(12)
        ]
        patches += blob(outline, tone, INK, 1) + blob(
            [(x + (a - x) * 0.5, y + (b - y) * 0.5) for a, b in outline],
            None,
            mixed(tone, INK, 0.4),
            1,
        )
    return drawing(
        "Flat grey-green and orange crusts with leafy edges on sound bark, and moss "
        "in a damp corner.",
        200,
        ground(134),
        trunk((78, 138), 150, 62, patches),
        ringed(
            points_of("44,132 52,128 60,132 100,132 108,128 116,133 50,134 106,134"),
            (11, INK),
            (9, (86, 128, 58)),
        ),
    )


SIGNS = (
    sucker,
    rootstock_takeover,
    water_sprout,
    trimmer_wound,
    tie_girdle,
    broken_branch,
    leaning,
    conk_base,
    gummosis,
    psorosis,
    dieback_sooty,
    roots_exposed,
    buried_trunk,
    pot_rootbound,
    standing_water,
    weeds_ring,
    low_sun,
    frost_bark,
    bark_sunburn,
    leaf_sunburn,
    frost_leaf,
    fast_decline,
    rodents,
    longhorn_hole,
    sawdust_hole,
    crown_gall,
    gum_stone,
    exocortis,
    armillaria,
    lichen,
)
