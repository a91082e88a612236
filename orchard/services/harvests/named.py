"""The trees that somebody names for a pick, by their codes or by a block."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.translation import ngettext

from orchard.records.models import Membership, Tree
from orchard.services import permissions
from orchard.services.errors import NotThere, Refused


def trees_named(member: Membership, codes: Iterable[str]) -> list[Tree]:
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
