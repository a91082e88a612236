"""The ground: blocks, spots and trees of the two demonstration orchards."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from orchard.demonstration.scene import Scene
from orchard.records.models import Block, Spot, Tree, User
from orchard.services import trees

CARRIZO = "Carrizo / Troyer citrange"
TRIFOLIATE = "Trifoliate orange (Poncirus trifoliata)"
DWARF = "Flying Dragon (dwarf trifoliate)"
SOUR = "Sour orange"
ROUGH = "Rough lemon"
CLEOPATRA = "Cleopatra mandarin"
VOLKAMER = "Volkamer lemon"
SWINGLE = "Swingle citrumelo"
OWN = "own roots"


@dataclass(frozen=True, slots=True)
class Plot:
    """A block with the numbers of its spots, and those that reach over a path."""

    code: str
    name: str
    spots: str
    over_path: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Sapling:
    """A tree as it stands when the book begins: planted so many years before."""

    code: str
    kind: str
    rootstock: str
    years: float
    litres: int = 0
    believed: str = ""
    staked: bool = False
    note: str = ""


PLOTS = (
    Plot("A", "Upper terrace", "1-16", (1, 2, 16)),
    Plot("B", "Lemon walk beside the path", "1-13", (1, 2, 3, 4, 5, 6, 7)),
    Plot("C", "Mandarin slope", "1-14"),
    Plot("D", "Lime-kiln corner", "1-11", (9,)),
    Plot("E", "Container terrace", "1-11", (11,)),
)
SAPLINGS = (
    Sapling("A-01", "Washington navel", SOUR, 41.2, note="The oldest of the garden."),
    Sapling("A-02", "Washington navel", SOUR, 40.8),
    Sapling("A-03", "Washington navel", CARRIZO, 18.5),
    Sapling("A-04", "Navelina", CARRIZO, 16.1),
    Sapling("A-05", "Cara Cara", CARRIZO, 9.3),
    Sapling("A-06", "Lane Late", CARRIZO, 12.4),
    Sapling("A-07", "Valencia", SOUR, 33.0, note="Thin crown for some years."),
    Sapling("A-08", "Valencia", CARRIZO, 14.2),
    Sapling("A-09", "Midknight", SWINGLE, 8.2),
    Sapling("A-10", "Moro", CARRIZO, 11.6),
    Sapling("A-11", "Tarocco", CARRIZO, 11.6),
    Sapling("A-12", "Sanguinelli", CARRIZO, 7.4, believed="blood orange, red label"),
    Sapling("A-13", "Hamlin", SWINGLE, 13.0),
    Sapling("A-14", "Parson Brown", SWINGLE, 13.0),
    Sapling("B-01", "Eureka lemon", SOUR, 38.5),
    Sapling("B-02", "Eureka lemon", VOLKAMER, 15.4),
    Sapling("B-03", "Lisbon lemon", VOLKAMER, 15.4),
    Sapling("B-04", "Meyer lemon", OWN, 10.2, note="Grown from a cutting."),
    Sapling("B-05", "Meyer lemon", OWN, 4.1),
    Sapling("B-06", "Tahiti (Bearss) lime", CARRIZO, 6.7),
    Sapling("B-07", "Marsh grapefruit", SOUR, 36.0),
    Sapling("B-08", "Ruby Red", SWINGLE, 12.0),
    Sapling("B-09", "Star Ruby", SWINGLE, 6.2, note="Pale leaves are its nature."),
    Sapling("B-10", "Chandler pummelo", CARRIZO, 9.8),
    Sapling("B-11", "Minneola tangelo", CARRIZO, 12.9),
    Sapling("C-01", "Owari satsuma", TRIFOLIATE, 14.0),
    Sapling("C-02", "Owari satsuma", TRIFOLIATE, 14.0),
    Sapling("C-03", "Owari satsuma", DWARF, 3.2, staked=True),
    Sapling("C-04", "Nules clementine", CARRIZO, 13.1),
    Sapling("C-05", "Nules clementine", CARRIZO, 13.1),
    Sapling("C-06", "Imperial", CLEOPATRA, 10.5),
    Sapling("C-07", "Daisy", CARRIZO, 5.6),
    Sapling("C-08", "Hickson", CLEOPATRA, 10.5),
    Sapling("C-09", "Dancy", CLEOPATRA, 22.0),
    Sapling("C-10", "Afourer", CARRIZO, 7.8),
    Sapling("C-11", "Murcott", ROUGH, 6.3),
    Sapling("C-12", "Mystique", CARRIZO, 2.4, staked=True),
    Sapling("C-13", "Orlando tangelo", CLEOPATRA, 12.9),
    Sapling("D-01", "Navelina", TRIFOLIATE, 8.8),
    Sapling("D-02", "Washington navel", TRIFOLIATE, 8.8),
    Sapling("D-03", "Valencia", CLEOPATRA, 8.8),
    Sapling("D-04", "Rio Red", SOUR, 19.6),
    Sapling("D-05", "Ruby Red", SOUR, 19.6, believed="pink grapefruit"),
    Sapling("D-06", "Nules clementine", TRIFOLIATE, 5.2),
    Sapling("D-07", "Lisbon lemon", ROUGH, 2.1, staked=True),
    Sapling("D-08", "Yuzu", TRIFOLIATE, 4.8),
    Sapling("D-09", "Tarocco", CARRIZO, 5.2),
    Sapling("D-10", "Afourer", CARRIZO, 1.6, staked=True),
    Sapling("E-01", "Meiwa kumquat", DWARF, 7.1, litres=80),
    Sapling("E-02", "Calamondin", OWN, 6.4, litres=60),
    Sapling("E-03", "Buddha's Hand citron", CARRIZO, 5.9, litres=70),
    Sapling("E-04", "Makrut lime", CARRIZO, 4.4, litres=50),
    Sapling("E-05", "Eustis limequat", DWARF, 3.6, litres=50),
    Sapling("E-06", "Mexican (Key) lime", OWN, 3.6, litres=50),
    Sapling("E-07", "Meyer lemon", OWN, 5.0, litres=80),
    Sapling("E-08", "Owari satsuma", DWARF, 4.0, litres=80),
    Sapling("E-09", "Yuzu", DWARF, 2.2, litres=40),
    Sapling("E-10", "Meiwa kumquat", DWARF, 1.3, litres=30),
)
SMALL = ("A-01", "A-03", "A-07", "B-02", "B-04", "C-12", "D-04", "E-01")

SOUTH_PLOTS = (
    Plot("H", "House paddock", "1-6", (1,)),
    Plot("V", "Verandah pots", "1-3"),
)
SOUTH_SAPLINGS = (
    Sapling("H-1", "Washington navel", TRIFOLIATE, 27.0),
    Sapling("H-2", "Valencia", TRIFOLIATE, 24.5),
    Sapling("H-3", "Imperial", CLEOPATRA, 11.2),
    Sapling("H-4", "Eureka lemon", ROUGH, 16.0),
    Sapling("H-5", "Cara Cara", CARRIZO, 3.4, staked=True),
    Sapling("H-6", "Afourer", CARRIZO, 1.4, staked=True),
    Sapling("V-1", "Meyer lemon", OWN, 4.2, litres=60),
    Sapling("V-2", "Tahiti (Bearss) lime", DWARF, 3.0, litres=50),
)
SOUTH_SMALL = ("H-1", "H-4", "H-6")

# Where soft scale and ants come back, where lime turns young leaves yellow.
STICKY = ("A-05", "B-02", "B-08", "C-04", "D-09", "E-07", "H-4")
LIMY = ("D-01", "D-02", "D-03", "D-06", "D-08")
DECLINING = {"A-07": -1.6, "C-09": -0.8, "D-04": -0.5}
RECOVERING = {"B-08": 0.8}


def lay_out(
    scene: Scene,
    plots: tuple[Plot, ...],
    saplings: tuple[Sapling, ...],
    *,
    by: User,
    day: date,
) -> None:
    """Enter blocks, spots and trees on the day the book begins."""
    spots: dict[str, Spot] = {}
    for plot in plots:
        now = scene.at(day, 10)
        block = trees.add_block(
            scene.orchard, by=by, now=now, code=plot.code, name=plot.name
        )
        over_path = [str(number) for number in plot.over_path]
        for spot in trees.add_spots(
            block, by=by, now=now, numbers=plot.spots, over_path=over_path
        ):
            spots[f"{plot.code}-{spot.number}"] = spot
    kinds = {kind.name: kind for kind in scene.orchard.kinds.all()}
    for row in saplings:
        block_code, text = row.code.split("-")
        planted_on = day - timedelta(days=round(row.years * 365.25))
        tree = trees.plant(
            scene.orchard,
            by=by,
            now=scene.at(day, 11),
            today=day,
            spot=spots[f"{block_code}-{int(text)}"],
            code=row.code,
            kind=kinds[row.kind],
            planted_on=planted_on,
            **details(row, planted_on),
        )
        scene.trees[row.code] = tree
        scene.standing[row.code] = scene.dice.choice((3.4, 3.8, 4.1, 4.3, 4.6))
    for code, start in (("A-07", 2.9), ("C-09", 3.9), ("D-04", 3.9), ("B-08", 1.9)):
        if code in scene.standing:
            scene.standing[code] = start


def details(row: Sapling, planted_on: date) -> dict[str, Any]:
    """Return what else is written about a tree when it is planted."""
    fields: dict[str, Any] = {
        "born_on": planted_on - timedelta(days=540),
        "own_roots": row.rootstock == OWN,
        "rootstock": "" if row.rootstock == OWN else row.rootstock,
        "believed": bool(row.believed),
        "label_name": row.believed,
        "irrigated": not row.litres,
        "staked": row.staked,
        "note": row.note,
    }
    if row.litres:
        fields["setting"] = Tree.Setting.CONTAINER
        fields["container_litres"] = Decimal(row.litres)
    return fields


def free_spot(scene: Scene, block: str, number: int) -> Spot:
    """Return a spot by its block and number."""
    found: Block = scene.orchard.blocks.get(code=block)
    return found.spots.get(number=str(number))
