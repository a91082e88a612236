"""Places that are closed: those alike together, and a sketch of blocks with them."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime

from orchard.records.models import Orchard, Tree
from orchard.science.words import WorkKind
from orchard.services.holds.by_tree import holds_of
from orchard.services.holds.shapes import TreeHold


@dataclass(frozen=True, slots=True)
class ClosedTrees:
    """Trees that are under the same holds, and what these say."""

    codes: tuple[str, ...]
    reasons: tuple[str, ...]


def closed_to(
    orchard: Orchard, work: WorkKind, *, today: date, now: datetime
) -> tuple[ClosedTrees, ...]:
    """Return the trees on which a kind of work is forbidden at a moment, and why."""
    found = holds_of(orchard, today=today, now=now, forbidding=work)
    trees = Tree.objects.in_orchard(orchard).standing().filter(pk__in=found)
    codes = trees.in_walking_order().values_list("pk", "code")
    return closed_alike((code, found[number]) for number, code in codes)


def closed_alike(
    trees: Iterable[tuple[str, Iterable[TreeHold]]],
) -> tuple[ClosedTrees, ...]:
    """Gather trees, by their codes, that are under the same holds."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for code, holds in trees:
        reasons = tuple(hold.reason for hold in holds)
        if reasons:
            groups.setdefault(reasons, []).append(code)
    return tuple(
        ClosedTrees(tuple(codes), reasons) for reasons, codes in groups.items()
    )


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
