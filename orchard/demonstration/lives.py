"""Tellers of what becomes of trees: planted, moved, died, replaced."""

from __future__ import annotations

from datetime import date
from typing import Any

from orchard.demonstration.ground import (
    CARRIZO,
    TRIFOLIATE,
    Sapling,
    details,
    free_spot,
)
from orchard.demonstration.scene import Scene
from orchard.demonstration.tellers import COORDINATOR, LEAD, Tell, standing
from orchard.services import trees


def life(verb: Any, code: str, reason: str) -> Tell:
    """Return what lets a tree die, lose its top or leave."""

    def tell(scene: Scene, day: date) -> None:
        verb(
            standing(scene, code),
            by=scene.people[LEAD],
            now=scene.at(day, 12),
            today=day,
            on=day,
            reason=reason,
        )

    return tell


def replaced(scene: Scene, day: date) -> None:
    """Plant another tree where one has died."""
    row = Sapling("A-07b", "Midknight", CARRIZO, 0, staked=True)
    tree = trees.replace(
        standing(scene, "A-07"),
        by=scene.people[LEAD],
        now=scene.at(day, 12),
        today=day,
        code=row.code,
        kind=scene.orchard.kinds.get(name=row.kind),
        planted_on=day,
        reason="Dead on its old rootstock; the roots were dug out.",
        **details(row, day),
    )
    scene.trees[row.code] = tree
    scene.standing[row.code] = 4.0
    trees.tag_of(tree, now=scene.at(day, 13), by=scene.people[LEAD])


def planted(row: Sapling) -> Tell:
    """Return what plants a tree."""

    def tell(scene: Scene, day: date) -> None:
        block, number = row.code.split("-")
        scene.trees[row.code] = trees.plant(
            scene.orchard,
            by=scene.people[LEAD],
            now=scene.at(day, 12),
            today=day,
            spot=free_spot(scene, block, int(number)),
            code=row.code,
            kind=scene.orchard.kinds.get(name=row.kind),
            planted_on=day,
            **details(row, day),
        )
        scene.standing[row.code] = 4.2
        trees.tag_of(
            scene.trees[row.code], now=scene.at(day, 13), by=scene.people[LEAD]
        )

    return tell


def moved(scene: Scene, day: date) -> None:
    """Move a young tree out of the shade."""
    trees.move(
        standing(scene, "C-12"),
        by=scene.people[LEAD],
        now=scene.at(day, 12),
        today=day,
        spot=free_spot(scene, "D", 11),
        on=day,
        reason="Stood in the shade of the new tool shed; dug out with its root ball.",
    )


def tag_lost(scene: Scene, day: date) -> None:
    """Make another tag for one that was torn off."""
    trees.retag(
        standing(scene, "B-02"),
        by=scene.people[LEAD],
        now=scene.at(day, 12),
        reason="The label was torn off in the storm.",
    )


def mended(scene: Scene, day: date) -> None:
    """Correct a tree's rootstock with a reason."""
    trees.correct(
        standing(scene, "D-04"),
        by=scene.people[COORDINATOR],
        now=scene.at(day, 18),
        today=day,
        reason="The nursery's bill names the rootstock.",
        rootstock=TRIFOLIATE,
    )
