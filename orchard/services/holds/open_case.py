"""Trees to be left alone: those with an open case."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import Case, Tree
from orchard.science import guide
from orchard.science.words import HoldKind, StepKind
from orchard.services.holds.shapes import HoldQuery, TreeHold


def open_cases(asked: HoldQuery) -> tuple[QuerySet[Any], ...]:
    """Return the rows that such holds come from."""
    cases = Case.objects.in_orchard(asked.orchard).open()
    if asked.trees is not None:
        cases = cases.filter(tree__in=asked.trees)
    return (cases,)


def holds_of_cases(asked: HoldQuery) -> Iterator[tuple[int, TreeHold]]:
    """Yield the trees with an open case; the reason does not tell of the suspicion."""
    zone = ZoneInfo(asked.orchard.time_zone)
    [cases] = open_cases(asked)
    in_turn = cases.order_by("opened_at", "id").values_list("tree_id", "opened_at")
    seen = set()
    for tree_id, opened_at in in_turn:
        if tree_id not in seen:
            seen.add(tree_id)
            since = opened_at.astimezone(zone).date()
            yield tree_id, TreeHold(HoldKind.OPEN_CASE, leave_alone(), since=since)


@dataclass(slots=True)
class LeftAlone:
    """Which of some trees are to be left alone; read when it is first asked."""

    trees: Sequence[Tree]
    _found: frozenset[int] | None = None

    def forbids(self, tree: Tree, step: StepKind) -> bool:
        """Tell whether a step of a sign waits until the case of a tree is closed."""
        if step not in guide.load().holds[HoldKind.OPEN_CASE].steps:
            return False
        if self._found is None:
            cases = Case.objects.open().filter(tree__in=self.trees)
            self._found = frozenset(cases.values_list("tree_id", flat=True))
        return tree.pk in self._found

    def read_anew(self) -> None:
        """Forget what was read: a case was opened since."""
        self._found = None


def leave_alone() -> str:
    """Say, to whoever may not know why, that a tree is to be left alone."""
    return _(
        "The coordinator has asked to leave this tree alone: take nothing from it."
    )
