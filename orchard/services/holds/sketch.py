"""A sketch of places: blocks with their trees in walking order, closed ones marked."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from orchard.records.models import Tree


@dataclass(frozen=True, slots=True)
class SketchPlace:
    """A tree on a sketch, and what may not be done there."""

    code: str
    is_closed: bool
    forbids_picking: bool


@dataclass(frozen=True, slots=True)
class SketchBlock:
    """A block on a sketch."""

    name: str
    places: tuple[SketchPlace, ...]


def sketch_of(
    trees: Iterable[Tree], *, closed: Collection[int], unpicked: Collection[int] = ()
) -> tuple[SketchBlock, ...]:
    """Return a sketch of trees in the order given, block by block.

    Trees come with their spots and blocks; `closed` are those where nobody may enter,
    `unpicked` those of which nothing may be picked.
    """
    blocks: dict[str, list[SketchPlace]] = {}
    for tree in trees:
        place = SketchPlace(
            code=tree.code,
            is_closed=tree.pk in closed,
            forbids_picking=tree.pk in unpicked,
        )
        blocks.setdefault(tree.spot.block.name, []).append(place)
    return tuple(SketchBlock(name, tuple(places)) for name, places in blocks.items())
