"""A pick as it was written down: whose trees it names, and what each of them gave."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.translation import ngettext

from orchard.records.models import Harvest, Membership, Tree
from orchard.services import permissions
from orchard.services.errors import NotThere, Refused
from orchard.services.harvests.shapes import Pick, TreePick, WrittenPick, shared_out


def pick_named(
    member: Membership, written: WrittenPick, *, corrects: Harvest | None = None
) -> Pick:
    """Return a pick with the trees that it names, and what each of them gave.

    Raises:
        Refused (unknown_tree): codes that name nothing here; all are said.
        Refused (too_few): fewer were counted than there are trees, and none weighed.
    """
    trees = _trees_named(member, written.codes)
    shared = None
    if corrects is not None and written.is_as_before:
        shared = _as_before(corrects, trees, written)
    if shared is None:
        shared = shared_out(
            trees,
            kg=written.kg,
            count=written.count,
            is_picked_clean=written.is_picked_clean,
        )
    return Pick(
        part=written.part,
        picked_at=written.picked_at,
        trees=shared,
        how=written.how,
        checks=written.checks,
        note=written.note,
    )


def _as_before(
    lot: Harvest, trees: Iterable[Tree], written: WrittenPick
) -> tuple[TreePick, ...] | None:
    """Return what each tree gave by the record, where the trees are the same."""
    rows = list(lot.harvested.select_related("tree").order_by("id"))
    if {row.tree_id for row in rows} != {tree.pk for tree in trees}:
        return None
    return tuple(
        TreePick(row.tree, row.kg, row.count, written.is_picked_clean, row.is_shared)
        for row in rows
    )


def _trees_named(member: Membership, codes: Iterable[str]) -> list[Tree]:
    """Return the trees that codes name, each once: its own, or all of a block.

    A tree that is gone by now may have been picked before.

    Raises:
        Refused (unknown_tree): some of them name nothing here; all are said.
    """
    found: dict[int, Tree] = {}
    missing = []
    for code in codes:
        try:
            trees = [permissions.tree_for(member, code)]
        except NotThere:
            trees = _growing_in_block(member, code)
        if not trees:
            missing.append(code)
        found |= {tree.pk: tree for tree in trees}
    if missing:
        text = ngettext(
            "There is no tree or block %(codes)s here. Look at its tag.",
            "There are no trees or blocks %(codes)s here. Look at their tags.",
            len(missing),
        )
        raise Refused(
            text % {"codes": ", ".join(missing)}, code="unknown_tree", field="trees"
        )
    return list(found.values())


def _growing_in_block(member: Membership, code: str) -> list[Tree]:
    trees = Tree.objects.in_orchard(member.orchard).looked_after()
    trees = trees.filter(spot__block__code__iexact=code)
    return list(trees.select_related("orchard", "kind", "spot__block"))
