"""Signs that are reported: greening and its insects, canker, and their kind."""

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
    STRAW,
    WHITE,
    YELLOW,
    along,
    mixed,
)
from orchard.demonstration.sign_drawings import animals, marks
from orchard.demonstration.sign_drawings.plants import (
    UNRIPE,
    Blade,
    Shoot,
    big_leaf,
    cut_across,
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
    placed,
    places_of,
    points_of,
    repeated,
    ringed,
    shape,
    stroke,
    strokes,
)


def psyllid_nymph() -> Drawing:
    shoot = Shoot((40, 152), 150, -82)
    leaf = small_leaf(56, 24)
    places = shoot.leaf_places(
        "0.22,-66,0.95 0.4,-50,0.9 0.5,62,0.85 0.66,-46,0.75 "
        "0.74,52,0.8 0.92,-26,0.55 0.9,30,0.6 1,2,0.5"
    )
    nymphs = "".join(
        placed(animals.psyllid_nymph(), at, turn, 0.9, 1)
        for at, turn in ((shoot.at(0.43), -10), (shoot.at(0.7), 24), ((24, 106), 62))
    )
    eggs = dots(points_of("66,8 61,14 69,14 64,20 60,4"), 3.4, (240, 150, 30))
    perch = Blade((48, 126), 118, 30, 2, -3).draw(SOFT_LEAF)
    adult = placed(animals.psyllid_adult(), (96, 112), -45, 1.5, 1.1)
    return drawing(
        "Flat yellow-orange nymphs with red eyes push out curly white strings of "
        "wax on a soft shoot; a mottled adult feeds head down with its tail raised.",
        14,
        perch,
        shoot.draw_stem(SOFT_LEAF, 9),
        leaves(places, SOFT_LEAF, leaf),
        eggs,
        nymphs,
        adult,
    )


def psyllid_pits() -> Drawing:
    blade = Blade((10, 128), 158, 84, -36, 4)
    pale = mixed(SOFT_LEAF, WHITE, 0.35)
    pits = points_of("0.26,-0.42 0.34,0.46 0.47,-0.5 0.53,0.38 0.66,-0.4 0.73,0.4")
    fringe = [
        [along((0, 0), 5, turn), along((0, 0), 8, turn)] for turn in range(0, 360, 30)
    ]
    pit = (
        disc((0, 0), 10.5, mixed(SOFT_LEAF, INK, 0.45), INK, 1)
        + disc((1, -1.5), 8, mixed(SOFT_LEAF, INK, 0.15), None)
        + strokes(fringe, WHITE, 1.3)
        + placed(animals.psyllid_nymph((226, 216, 90), wax=False), (0, 0), 0, 0.46, 0.9)
    )
    body = repeated(
        "n", pit, [(blade.at(*place), 30 + 40 * place[1], 1.1) for place in pits]
    )
    side = points_of(
        "100,131 108,131 112,122 119,122 123,131 132,131 136,122 "
        "143,122 147,131 154,131"
    )
    under = [(x, y + 5) for x, y in side]
    cut = shape([*side, *reversed(under)], pale, INK, 1.2) + dots(
        [(115.5, 131), (139.5, 131)], 4.5, (214, 190, 70)
    )
    adult = placed(
        animals.psyllid_adult(animals.CLEAR, mottled=False), (22, 34), -30, 1.4, 1.1
    ) + stroke(points_of("8,44 30,49 60,50"), DARK_LEAF, 3)
    return drawing(
        "Under a young leaf each open pit holds one flat nymph with a white fringe; "
        "seen from the edge every pit is a bump above; the adult has clear wings.",
        17,
        blade.draw(pale, body, veins=mixed(pale, INK, 0.3)),
        cut,
        adult,
    )


def hlb_mottle() -> Drawing:
    blade = big_leaf(width=84)
    fade = mixed(LEAF, YELLOW, 0.5)
    blotches: list[list[tuple[float, float]]] = [
        points_of(
            "0.12,-0.1 0.16,-0.7 0.28,-1.1 0.36,-0.7 0.48,-0.85 "
            "0.54,-0.4 0.48,0.12 0.38,0.34 0.3,0.1 0.2,0.2"
        ),
        points_of("0.58,-1.15 0.66,-0.6 0.78,-0.75 0.84,-0.3 0.9,-0.9 0.7,-1.3"),
        points_of("0.6,0.02 0.62,0.4 0.7,0.7 0.76,0.4 0.86,0.5 0.84,-0.1 0.72,-0.25"),
        points_of("0.2,0.7 0.28,1.15 0.4,1.1 0.38,0.75 0.3,0.6"),
    ]
    yellow = "".join(blade.patch(row, YELLOW, fade, 8) for row in blotches)
    pale = blade.patch(
        points_of("0.2,-0.5 0.28,-0.8 0.34,-0.4 0.44,-0.45 0.4,-0.1 0.28,-0.15"), STRAW
    )
    islands = ringed(
        [
            blade.at(0.42, -0.66),
            blade.at(0.24, -0.24),
            blade.at(0.7, 0.24),
            blade.at(0.5, 0.08),
        ],
        (12, fade),
        (7, LEAF),
    )
    corky = blade.midrib[::6]
    return drawing(
        "Yellow and green blotches that run across the midrib and differ on the two "
        "halves of the leaf, without sharp edges; the midrib is thick and pale.",
        105,
        stalk(blade),
        blade.draw(LEAF, yellow, pale, islands, veins=mixed(LEAF, INK, 0.3)),
        stroke(corky, INK, 5),
        stroke(corky, STRAW, 3.2),
    )


def hlb_fruit() -> Drawing:
    ring = points_of(
        "50,24 70,22 88,34 100,56 102,82 92,104 72,116 54,112 "
        "46,98 45,82 38,66 32,48 36,32"
    )
    green = blob(points_of("20,74 50,82 72,70 110,76 100,130 30,130"), UNRIPE, None)
    fade = stroke(
        points_of("24,74 50,81 72,70 100,74"), mixed(ORANGE, GREEN_FRUIT, 0.5), 7
    )
    dark = blob(
        points_of("30,96 60,104 92,90 80,130 30,130"),
        mixed(LEAF, DARK_LEAF, 0.6),
        None,
    )
    whole = fruit((62, 66), 40, ORANGE, green, fade, dark, outline=ring, stem=False)
    half = points_of(
        "118,66 134,70 145,84 146,104 138,122 122,130 108,122 102,106 102,86 108,72"
    )
    core = stroke(
        points_of("116,70 126,86 129,104 124,127"), mixed(STRAW, BROWN, 0.3), 3
    )
    flesh = blob(
        [(x + (124 - x) * 0.16, y + (98 - y) * 0.16) for x, y in half],
        mixed(ORANGE, STRAW, 0.35),
        mixed(ORANGE, INK, 0.3),
        0.8,
    )
    seeds = dots(points_of("120,94 132,98 121,108 133,112"), 3.6, (70, 46, 30))
    parts = strokes(
        [
            [(122, 84), (108, 80)],
            [(127, 96), (141, 92)],
            [(128, 108), (141, 112)],
            [(126, 116), (110, 116)],
            [(124, 100), (105, 100)],
        ],
        mixed(ORANGE, INK, 0.3),
        0.8,
    )
    leaf = leaves(places_of("56,20,62,1 50,20,-70,0.8"), DARK_LEAF, small_leaf(52, 22))
    return drawing(
        "A small lopsided fruit that stays green at its flower end; cut open, its "
        "core is bent, one side is larger and the seeds are dark and shrunken.",
        80,
        leaf,
        twig([(60, -4), (52, 22)], BARK, 4),
        whole,
        blob(half, mixed(ORANGE, STRAW, 0.75)),
        flesh,
        parts,
        core,
        seeds,
    )


def canker_spots() -> Drawing:
    blade = Blade((-14, 120), 150, 88, -44, 4)
    places = [
        (0.3, -0.45, 7),
        (0.48, 0.42, 9.5),
        (0.62, -0.4, 8),
        (0.36, 0.55, 5),
        (0.74, 0.25, 5.5),
        (0.84, -0.2, 4),
    ]
    spots = marks.craters([(blade.at(a, b), size) for a, b, size in places])
    on_fruit = marks.craters(
        [((112, 100), 7), ((133, 88), 5), ((132, 118), 8), ((108, 122), 4.5)], name="j"
    )
    orange = fruit((122, 104), 36, mixed(GREEN_FRUIT, YELLOW, 0.3), on_fruit)
    return drawing(
        "Raised tan corky craters with a water-soaked edge and a yellow ring, on a "
        "leaf and on a fruit.",
        70,
        blade.draw(LEAF, spots),
        orange,
    )


def fruit_fly() -> Drawing:
    soft = mixed(ORANGE, BROWN, 0.35)
    stings = ringed(
        [(66, 62), (36, 84)], (26, soft), (15, mixed(ORANGE, BROWN, 0.85)), (4, INK)
    )
    pattern = dots(points_of("-2.5,-4 2.5,-4 -2,0 2,0"), 2, INK) + strokes(
        [[(-4, 6), (4, 6)], [(-4, 9), (4, 9)]], WHITE, 1.3
    )
    insect = animals.fly(
        (120, 112, 96),
        (216, 172, 84),
        pattern,
        bands=(
            points_of("6,-6 8,-3 7,1"),
            points_of("12,-7 14,-2 12,4"),
            points_of("17,-4 19,0 17,4"),
        ),
    )
    worms = "".join(
        placed(animals.maggot(), spot, turn, 0.78, 1)
        for spot, turn in (
            ((-11, -14), 30),
            ((12, -4), 160),
            ((-9, 7), -40),
            ((10, 17), 20),
        )
    )
    brown = blob(
        points_of("-18,-20 4,-22 22,-8 20,20 0,26 -18,12"),
        mixed(ORANGE, BROWN, 0.7),
        None,
    )
    half = cut_across((116, 107), 36, brown, worms)
    return drawing(
        "Pin-pricks ringed with soft brown rind on a fruit, white legless maggots "
        "in the cut flesh, and through a lens the small fly with banded wings.",
        92,
        fruit((50, 76), 44, ORANGE, stings),
        half,
        lens((128, 28), 26, 8.4, placed(insect, (0, -1), 20, 1.0, 1.1)),
    )


def mal_secco() -> Drawing:
    stem = points_of("28,150 44,112 62,76 84,40 100,6")
    dead = twig(stem, (196, 192, 180), 15)
    low = stroke(stem[:2], mixed(LEAF, BARK, 0.4), 15)
    shaved = points_of("49,118 44,106 56,78 69,50 80,38 84,42 74,66 62,94")
    wood = blob(shaved, (214, 92, 36), INK, 1.6)
    grain = strokes(
        [points_of("52,108 62,84 76,52"), [(55, 106), (66, 80)]], (184, 70, 36), 1.3
    )
    peel = blob(
        points_of("49,118 42,122 34,112 30,98 36,96 44,106"),
        mixed(BARK, WHITE, 0.3),
        INK,
        1.2,
    )
    stalks = strokes(
        [[(88, 34), (102, 30)], [(93, 22), (80, 10)], [(72, 60), (88, 62)]], INK, 4
    ) + strokes(
        [[(88, 34), (102, 30)], [(93, 22), (80, 10)], [(72, 60), (88, 62)]],
        (190, 182, 120),
        2,
    )
    blade = Blade((100, 66), 82, 46, 62, -5)
    leaf = blade.draw(mixed(LEAF, SOFT_LEAF, 0.2), veins=(244, 222, 96), line=2)
    fallen = stroke([(92, 58), (100, 66)], INK, 3)
    return drawing(
        "A grey dying twig that lost its leaves but kept their stalks; shaved with "
        "a knife, its wood is orange; beside it a drooping leaf with yellow veins.",
        95,
        dead,
        low,
        stalks,
        wood,
        grain,
        peel,
        fallen,
        leaf,
    )


def black_spot() -> Drawing:
    dice = Random(8)
    spots = [
        ((58, 58), 9.5),
        ((86, 82), 11.5),
        ((52, 96), 8),
        ((84, 46), 6),
        ((76, 116), 8.5),
        ((110, 98), 7),
        ((104, 66), 5),
    ]
    pieces = ""
    for (x, y), radius in spots:
        pieces += disc((x, y), radius, (52, 30, 26), None)
        pieces += disc((x, y), radius * 0.86, (128, 48, 32), None)
        pieces += disc(
            (x + radius * 0.08, y + radius * 0.1), radius * 0.66, marks.GREY, None
        )
        specks = [
            along((x, y), dice.uniform(0, radius * 0.45), dice.uniform(0, 360))
            for _speck in range(round(radius * 0.8))
        ]
        pieces += dots(specks, 1.5, INK)
    freckles = points_of("40,72 66,78 70,34 98,114 62,118 92,30 118,80")
    whole = fruit((78, 78), 60, ORANGE, dots(freckles, 2.6, (96, 40, 28)), pieces)
    leaf = leaves(places_of("84,20,64,1 80,20,-66,0.9"), DARK_LEAF, small_leaf(58, 24))
    return drawing(
        "Round sunken spots on a ripening fruit, grey in the middle with tiny black "
        "dots and a brick-red to black rim; small dark freckles between them.",
        75,
        leaf,
        whole,
    )


SIGNS = (
    psyllid_nymph,
    psyllid_pits,
    hlb_mottle,
    hlb_fruit,
    canker_spots,
    fruit_fly,
    mal_secco,
    black_spot,
)
