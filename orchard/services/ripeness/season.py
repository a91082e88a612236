"""Ripeness now: each kind in each block, its season, and what its fruit last showed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Sequence
from dataclasses import dataclass
from datetime import date

from orchard.records.models import Block, Kind, Orchard, Target, Tree
from orchard.science import guide
from orchard.science.events import EventKind
from orchard.science.ripeness import Readiness
from orchard.science.words import JobRole
from orchard.services import care_plan, holds
from orchard.services.care_plan import Context
from orchard.services.fruit import MaturityReading, Place
from orchard.services.holds import Forbidden


@dataclass(frozen=True, slots=True)
class KindRipeness:
    """The bearing trees of one kind in one block, and how near their fruit is."""

    kind: Kind
    block: Block
    trees: tuple[Tree, ...]
    held_trees: int
    season: tuple[date, date] | None
    in_season: bool
    tests: tuple[MaturityReading, ...]
    picked: bool
    hung_long: bool

    @property
    def is_on(self) -> bool:
        """Whether it comes ripe now, or its fruit hangs ready."""
        return self.in_season or self.is_ready

    @property
    def newest(self) -> MaturityReading | None:
        return self.tests[0] if self.tests else None

    @property
    def is_ready(self) -> bool:
        newest = self.newest
        return newest is not None and newest.is_ready and not self.picked

    @property
    def is_late(self) -> bool:
        """Whether fruit that may be picked hangs longer than is usual."""
        return self.is_ready and self.hung_long and not self.held_trees

    @property
    def again_on(self) -> date | None:
        """The day to taste again, where the newest test fell short by little."""
        newest = self.newest
        if newest is None or newest.answer.readiness is not Readiness.TASTE_AGAIN:
            return None
        return newest.test.tested_on + care_plan.taste_again_after()


def ripeness_of_kinds(orchard: Orchard, *, today: date) -> tuple[KindRipeness, ...]:
    """List what bears here: ready first, then by season."""
    context = care_plan.gather_context(orchard, today=today)
    held_trees = holds.holds_of(orchard, today=today, forbidding=Forbidden.PICKING)
    tests = context.ripe_tests
    groups: dict[Place, list[Tree]] = defaultdict(list)
    for tree in context.trees:
        place = (tree.spot.block_id, tree.kind_id)
        if context.facts[tree.pk].get("bearing") is True or place in tests:
            groups[place].append(tree)
    rows = [
        _row(trees, tests.get(place, ()), held_trees, context)
        for place, trees in groups.items()
    ]
    return tuple(sorted(rows, key=_order))


def _row(
    trees: list[Tree],
    tests: Sequence[MaturityReading],
    held_trees: Container[int],
    context: Context,
) -> KindRipeness:
    season = care_plan.season_now(trees[0], context)
    newest = tests[0].test.tested_on if tests else None
    ended = care_plan.ends_of_season(trees[0], newest, context) if newest else None
    in_season = season is not None and care_plan.comes_ripe(*season, context.today)
    return KindRipeness(
        kind=trees[0].kind,
        block=trees[0].spot.block,
        trees=tuple(trees),
        held_trees=sum(tree.pk in held_trees for tree in trees),
        season=season,
        in_season=in_season,
        tests=tuple(tests),
        picked=bool(tests)
        and all(_is_picked(tree, tests[0], context) for tree in trees),
        hung_long=ended is not None and ended < context.today,
    )


def _is_picked(tree: Tree, reading: MaturityReading, context: Context) -> bool:
    """Tell whether a tree was picked after its kind was tested."""
    days = [
        day
        for what, day in context.happened.get(tree.pk, ())
        if what == EventKind.HARVESTED.guide_name
    ]
    harvest = guide.load().job(JobRole.HARVEST).key
    days += context.worked.get((Target(tree_id=tree.pk), harvest), ())
    return any(day >= reading.test.tested_on for day in days)


def _order(row: KindRipeness) -> tuple[bool, bool, date, str, str]:
    begins = row.season[0] if row.season else date.max
    return (
        not row.is_ready,
        not row.in_season,
        begins,
        row.kind.name,
        row.block.code,
    )
