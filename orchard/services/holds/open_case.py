"""Trees that nothing leaves: those with an open case."""

from __future__ import annotations

from collections.abc import Iterable

from orchard.records.models import Case, Orchard


def trees_nothing_leaves(
    orchard: Orchard, tree_ids: Iterable[int] | None = None
) -> frozenset[int]:
    """Return the trees that nothing may leave now, without saying why."""
    rows = Case.objects.of(orchard).open()
    if tree_ids is not None:
        rows = rows.filter(tree_id__in=list(tree_ids))
    return frozenset(rows.values_list("tree_id", flat=True))
