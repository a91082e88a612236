"""Ripeness now: each kind in each block, its season, and what its fruit last showed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from orchard.records.models import Block, Kind, Orchard, Target, Tree
from orchard.science import guide
from orchard.science.events import EventKind
from orchard.science.ripeness import Readiness
from orchard.science.words import HoldKind, JobRole, WorkKind
from orchard.services import care_plan
from orchard.services.care_plan import Context
from orchard.services.fruit import MaturityReading, Place
from orchard.services.holds import TreeHold, holds_of


@dataclass(frozen=True, slots=True)
class KindRipeness:
    """The bearing trees of one kind in one block, and how near their fruit is."""

    kind: Kind
    block: Block
    trees: tuple[Tree, ...]
    # Trees that nothing is picked from today, each with the first reason.
    held_trees: tuple[tuple[Tree, TreeHold], ...]
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
        return (
            newest is not None
            and newest.is_ready
            and not self.picked
            and len(self.left_alone) < len(self.trees)
        )

    @property
    def left_alone(self) -> tuple[Tree, ...]:
        """The trees that nothing is taken from, whatever their fruit is like."""
        return tuple(
            tree for tree, hold in self.held_trees if hold.kind is HoldKind.OPEN_CASE
        )

    @property
    def free_trees(self) -> tuple[Tree, ...]:
        """The trees that are not left alone."""
        return tuple(tree for tree in self.trees if tree not in self.left_alone)

    @property
    def reasons(self) -> tuple[tuple[str, str], ...]:
        """Why trees are not picked, each reason with the codes of its trees."""
        found: dict[str, list[str]] = defaultdict(list)
        for tree, hold in self.held_trees:
            found[hold.reason].append(tree.code)
        return tuple((reason, ", ".join(codes)) for reason, codes in found.items())

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
    tests = context.ripe_tests
    groups: dict[Place, list[Tree]] = defaultdict(list)
    for tree in context.trees:
        place = (tree.spot.block_id, tree.kind_id)
        if context.facts[tree.pk].get("bearing") is True or place in tests:
            groups[place].append(tree)
    rows = [
        _row(trees, tests.get(place, ()), context) for place, trees in groups.items()
    ]
    return tuple(sorted(rows, key=_order))


def trees_left_alone(orchard: Orchard, *, today: date) -> tuple[str, ...]:
    """Name the trees of which no fruit is tested today, by their codes."""
    under_hold = holds_of(orchard, today=today, forbidding=WorkKind.SAMPLING)
    trees = Tree.objects.in_orchard(orchard).looked_after().filter(pk__in=under_hold)
    return tuple(trees.in_walking_order().values_list("code", flat=True))


def _row(
    trees: list[Tree],
    tests: Sequence[MaturityReading],
    context: Context,
) -> KindRipeness:
    harvest = guide.load().job(JobRole.HARVEST)
    under_hold = []
    for tree in trees:
        holds = context.holds.get(tree.pk, ())
        under_hold += [(tree, hold) for hold in holds if hold.forbids(harvest.work)][:1]
    alone = [tree for tree, hold in under_hold if hold.kind is HoldKind.OPEN_CASE]
    free = [tree for tree in trees if tree not in alone]
    season = care_plan.season_now(trees[0], context)
    newest = tests[0].test.tested_on if tests else None
    ended = care_plan.ends_of_season(trees[0], newest, context) if newest else None
    in_season = season is not None and care_plan.comes_ripe(*season, context.today)
    return KindRipeness(
        kind=trees[0].kind,
        block=trees[0].spot.block,
        trees=tuple(trees),
        held_trees=tuple(under_hold),
        season=season,
        in_season=in_season,
        tests=tuple(tests),
        picked=bool(tests)
        and all(_is_picked(tree, tests[0], context) for tree in free or trees),
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
