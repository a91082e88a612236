"""Trees to be left alone: those with an open case."""

from __future__ import annotations

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from orchard.records.models import Case
from orchard.science.words import HoldKind
from orchard.services.holds.shapes import HoldQuery, TreeHold


def holds_of_cases(asked: HoldQuery) -> Iterator[tuple[int, TreeHold]]:
    """Yield the trees with an open case; the reason does not tell of the suspicion."""
    zone = ZoneInfo(asked.orchard.time_zone)
    cases = Case.objects.in_orchard(asked.orchard).open().order_by("opened_at", "id")
    if asked.trees is not None:
        cases = cases.filter(tree__in=asked.trees)
    seen = set()
    for tree_id, opened_at in cases.values_list("tree_id", "opened_at"):
        if tree_id not in seen:
            seen.add(tree_id)
            since = opened_at.astimezone(zone).date()
            yield tree_id, TreeHold(HoldKind.OPEN_CASE, leave_alone(), since=since)


def leave_alone() -> str:
    """Say, to whoever may not know why, that a tree is to be left alone."""
    return _(
        "The coordinator has asked to leave this tree alone: take nothing from it."
    )
