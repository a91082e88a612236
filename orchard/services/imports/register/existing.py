"""What the book holds already, gathered once for all rows of a register."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from orchard.records.models import Block, Kind, Orchard, Spot, Tree
from orchard.science.codes import plain_code
from orchard.services.trees import old_codes, spellings


@dataclass(frozen=True, slots=True)
class Book:
    """An orchard's names and places by what a file may call them, in lower case."""

    blocks: dict[str, int]
    block_codes: dict[int, str]
    spots: dict[tuple[int, str], int]
    spot_names: dict[int, str]
    kinds: dict[str, tuple[int, str]]
    kind_names: list[str]
    trees: dict[str, dict[str, Any]]
    standing: dict[int, str]
    old_codes: set[str]


def book_of(orchard: Orchard) -> Book:
    """Gather an orchard's places, kinds and trees in five queries."""
    blocks: dict[str, int] = {}
    rows = list(Block.objects.filter(orchard=orchard).order_by("id"))
    for block in rows:
        blocks.setdefault(block.name.casefold(), block.pk)
    # A code wins over another block's name.
    blocks |= {block.code.casefold(): block.pk for block in rows}
    codes = {block.pk: block.code for block in rows}
    spots = list(
        Spot.objects.filter(block__orchard=orchard).values_list(
            "pk", "block_id", "number"
        )
    )
    kinds: dict[str, tuple[int, str]] = {}
    names = list(Kind.objects.filter(orchard=orchard).order_by("id"))
    for kind in names:
        ways = spellings(kind.name) if kind.guide_key else []
        for other in [*ways, *kind.other_names]:
            kinds.setdefault(str(other).casefold(), (kind.pk, kind.name))
    kinds |= {kind.name.casefold(): (kind.pk, kind.name) for kind in names}
    trees: list[dict[str, Any]] = [
        dict(row) for row in Tree.objects.filter(orchard=orchard).values()
    ]
    return Book(
        blocks=blocks,
        block_codes=codes,
        spots={(block, number.casefold()): pk for pk, block, number in spots},
        spot_names={pk: f"{codes[block]}-{number}" for pk, block, number in spots},
        kinds=kinds,
        kind_names=[kind.name for kind in names],
        trees={plain_code(tree["code"]).lower(): tree for tree in trees},
        standing={
            tree["spot_id"]: tree["code"]
            for tree in trees
            if tree["removed_on"] is None
        },
        old_codes=old_codes(orchard),
    )
