"""All holds on trees, whatever causes them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date

from orchard.records.models import Orchard
from orchard.services.holds.after_frost import holds_after_frost
from orchard.services.holds.open_case import holds_of_cases
from orchard.services.holds.shapes import Forbidden, TreeHold

Source = Callable[[Orchard, date], Iterable[tuple[int, TreeHold]]]
# Who reports holds, by what these forbid.
SOURCES: Mapping[Forbidden, tuple[Source, ...]] = {
    Forbidden.LEAVING: (holds_of_cases,),
    Forbidden.PICKING: (holds_after_frost,),
}


def holds_of(
    orchard: Orchard,
    trees: Iterable[int] | None = None,
    *,
    today: date,
    forbidding: Forbidden | None = None,
) -> dict[int, tuple[TreeHold, ...]]:
    """Return the trees under a hold today, each with its holds.

    Of all trees of the orchard or of some, and of all holds or of those that forbid one
    thing. The number of queries does not grow with the trees.
    """
    wanted = None if trees is None else frozenset(trees)
    found: dict[int, list[TreeHold]] = defaultdict(list)
    for source in _sources(forbidding):
        for tree_id, hold in source(orchard, today):
            if wanted is None or tree_id in wanted:
                found[tree_id].append(hold)
    return {tree_id: tuple(holds) for tree_id, holds in found.items()}


def _sources(forbidding: Forbidden | None) -> Iterator[Source]:
    for forbidden, sources in SOURCES.items():
        if forbidding in (None, forbidden):
            yield from sources
