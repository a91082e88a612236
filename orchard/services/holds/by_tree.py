"""All holds on trees, whatever causes them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.db.models import IntegerField, QuerySet, Value

from orchard.records.models import Orchard
from orchard.science import guide
from orchard.science.verdict import AUTHORITY_WAITS, VerdictStep
from orchard.science.words import HoldKind, StepKind, WorkKind
from orchard.services.holds.after_frost import frosts_and_tests, holds_after_frost
from orchard.services.holds.after_treatment import (
    holds_after_treatment,
    treatments_holding,
)
from orchard.services.holds.open_case import holds_of_cases, open_cases
from orchard.services.holds.shapes import HoldQuery, TreeHold


@dataclass(frozen=True, slots=True)
class HoldSource:
    """Who reports holds, of which kinds, and the rows that any of them come from."""

    kinds: frozenset[HoldKind]
    rows: Callable[[HoldQuery], tuple[QuerySet[Any], ...]]
    holds: Callable[[HoldQuery], Iterable[tuple[int, TreeHold]]]


# So many are not named for each source: of all trees is asked what there is to read.
MANY_TREES = 500
SOURCES = (
    HoldSource(frozenset({HoldKind.OPEN_CASE}), open_cases, holds_of_cases),
    HoldSource(
        frozenset(
            {
                HoldKind.SEVERE_FROST,
                HoldKind.CUT_TEST_OPEN,
                HoldKind.CUT_TEST_FAILED,
                HoldKind.CUT_TEST_UNDONE,
            }
        ),
        frosts_and_tests,
        holds_after_frost,
    ),
    HoldSource(
        frozenset({HoldKind.ENTRY, HoldKind.HARVEST}),
        treatments_holding,
        holds_after_treatment,
    ),
)


def holds_of(
    orchard: Orchard,
    trees: Iterable[int] | None = None,
    *,
    today: date,
    now: datetime | None = None,
    forbidding: WorkKind | None = None,
) -> dict[int, tuple[TreeHold, ...]]:
    """Return the trees under a hold today, each with its holds.

    Of all trees of the orchard or of some, and of all holds or of those that forbid one
    kind of work. What ends in the course of today has ended only where it is
    asked for a moment. One query tells what there is to read, mostly nothing; the
    number of queries does not grow with the trees.
    """
    wanted = None if trees is None else frozenset(trees)
    if wanted is not None and not wanted:
        return {}
    asked = HoldQuery(orchard, today, wanted, now)
    sources = [
        source
        for source in SOURCES
        if any(_forbids(kind, forbidding) for kind in source.kinds)
    ]
    found: dict[int, list[TreeHold]] = defaultdict(list)
    for source in _with_rows(sources, asked):
        for tree_id, hold in source.holds(asked):
            if _forbids(hold.kind, forbidding):
                found[tree_id].append(hold)
    return {tree_id: tuple(holds) for tree_id, holds in found.items()}


def _with_rows(sources: Sequence[HoldSource], asked: HoldQuery) -> list[HoldSource]:
    """Return those of some sources that have any rows, asked for in one query."""
    if asked.trees is not None and len(asked.trees) > MANY_TREES:
        asked = replace(asked, trees=None)
    if len(sources) < 2:
        return list(sources)
    # Each yields the place of its source, once, where there is any row.
    places = [
        rows.values_list(Value(place, output_field=IntegerField())).distinct()
        for place, source in enumerate(sources)
        for rows in source.rows(asked)
    ]
    full = {place for (place,) in places[0].union(*places[1:], all=True)}
    return [source for place, source in enumerate(sources) if place in full]


def reasons_for(
    holds: Iterable[TreeHold],
    *,
    work: Iterable[WorkKind] = (),
    step: StepKind | None = None,
) -> list[str]:
    """Return the reasons of those holds that forbid some work or a step of a sign."""
    work = tuple(work)
    return [
        hold.reason
        for hold in holds
        if hold.forbids(work) or (step is not None and hold.forbids_step(step))
    ]


def with_holds(
    steps: Iterable[VerdictStep], holds: Iterable[TreeHold]
) -> tuple[VerdictStep, ...]:
    """Return the steps of a sign, those that a hold forbids with its reason."""
    holds = tuple(holds)
    return tuple(_held_back(step, holds) for step in steps)


def _held_back(step: VerdictStep, holds: Iterable[TreeHold]) -> VerdictStep:
    reasons = reasons_for(holds, step=step.kind)
    if not reasons or step.waits == AUTHORITY_WAITS:
        return step
    return replace(step, waits=" ".join(dict.fromkeys(reasons)))


def _forbids(kind: HoldKind, forbidding: WorkKind | None) -> bool:
    rule = guide.load().holds[kind]
    return forbidding is None or rule.all_work or forbidding in rule.work
