"""Trees that nothing leaves: those with an open case."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from django.utils.translation import gettext as _

from orchard.records.models import Case, Orchard
from orchard.services.holds.shapes import HoldKind, TreeHold


def holds_of_cases(orchard: Orchard, today: date) -> Iterator[tuple[int, TreeHold]]:
    """Yield the trees with an open case; the reason does not tell of the suspicion."""
    trees = Case.objects.in_orchard(orchard).open().values_list("tree_id", flat=True)
    reason = _("Nothing leaves this tree: no fruit, leaf, cutting, prunings or soil.")
    for tree_id in dict.fromkeys(trees):
        yield tree_id, TreeHold(HoldKind.OPEN_CASE, reason)
