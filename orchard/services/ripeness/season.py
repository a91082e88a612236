"""Ripeness now: each kind in each block, its season, and what its fruit last showed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from orchard.records.models import Block, GrowingTree, Kind, Orchard, Tree
from orchard.science import guide
from orchard.science.ripeness import Readiness
from orchard.science.words import HoldKind, JobRole, WorkKind
from orchard.services import care_plan, fruit
from orchard.services.care_plan import Context
from orchard.services.fruit import MaturityReading, Place
from orchard.services.holds import TreeHold, after_treatments, holds_of


@dataclass(frozen=True, slots=True)
class KindRipeness:
    """The bearing trees of one kind in one block, and how near their fruit is."""

    kind: Kind
    block: Block
    trees: tuple[GrowingTree, ...]
    # Trees that nothing is picked from today, each with the first reason.
    held_trees: tuple[tuple[GrowingTree, TreeHold], ...]
    season: tuple[date, date] | None
    in_season: bool
    tests: tuple[MaturityReading, ...]
    # The day on which the last of its trees was picked this season.
    picked_on: date | None
    # By when fruit that was found ready is picked.
    pick_by: date | None
    is_late: bool

    @property
    def is_on(self) -> bool:
        """Whether it comes ripe now, or its fruit hangs ready."""
        return self.in_season or self.is_ready

    @property
    def newest(self) -> MaturityReading | None:
        return self.tests[0] if self.tests else None

    @property
    def picked(self) -> bool:
        return self.picked_on is not None

    @property
    def left_alone(self) -> tuple[GrowingTree, ...]:
        """The trees that nothing is taken from, whatever their fruit is like."""
        return tuple(
            tree for tree, hold in self.held_trees if hold.kind is HoldKind.OPEN_CASE
        )

    @property
    def free_trees(self) -> tuple[GrowingTree, ...]:
        """The trees that are not left alone."""
        alone = {tree.pk for tree in self.left_alone}
        return tuple(tree for tree in self.trees if tree.pk not in alone)

    @property
    def trees_to_pick(self) -> tuple[GrowingTree, ...]:
        """The trees that nothing forbids to pick."""
        under_hold = {tree.pk for tree, _hold in self.held_trees}
        return tuple(tree for tree in self.trees if tree.pk not in under_hold)

    @property
    def reasons(self) -> tuple[tuple[str, str], ...]:
        """Why trees are not picked, each reason with the codes of its trees."""
        found: dict[str, list[str]] = defaultdict(list)
        for tree, hold in self.held_trees:
            found[hold.reason].append(tree.code)
        return tuple((reason, ", ".join(codes)) for reason, codes in found.items())

    @property
    def is_ready(self) -> bool:
        return self.pick_by is not None and bool(self.free_trees)

    @property
    def again_on(self) -> date | None:
        """The day to test again, where the newest test fell short."""
        newest = self.newest
        if newest is None or self.picked:
            return None
        if newest.answer.readiness is not Readiness.NOT_YET:
            return None
        return newest.test.tested_on + care_plan.retest_after()


def ripeness_of_kinds(
    orchard: Orchard, *, today: date, context: Context | None = None
) -> tuple[KindRipeness, ...]:
    """List what bears here: ready first, then by season.

    `context` is what the care plan knows today, where it is read already.
    """
    context = context or care_plan.gather_context(orchard, today=today)
    tests = context.ripe_tests
    groups: dict[Place, list[GrowingTree]] = defaultdict(list)
    for tree in context.trees:
        place = (tree.block_id, tree.kind_id)
        if context.facts_of(tree).get("bearing") is True or place in tests:
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


def trees_not_tasted(orchard: Orchard, *, now: datetime) -> tuple[str, ...]:
    """Name the trees whose fruit may be measured now and not tasted, by their codes."""
    treated = after_treatments(orchard, None, now, begun_by=now)
    under_hold = [
        pk
        for pk, after in treated.items()
        if after.is_locked(after.openings.fruit, now)
    ]
    trees = Tree.objects.in_orchard(orchard).looked_after().filter(pk__in=under_hold)
    return tuple(trees.in_walking_order().values_list("code", flat=True))


def _row(
    trees: list[GrowingTree],
    tests: Sequence[MaturityReading],
    context: Context,
) -> KindRipeness:
    harvest = guide.load().job(JobRole.HARVEST)
    under_hold = []
    for tree in trees:
        holds = context.holds.get(tree.pk, ())
        under_hold += [(tree, hold) for hold in holds if hold.forbids(harvest.work)][:1]
    alone = {tree.pk for tree, hold in under_hold if hold.kind is HoldKind.OPEN_CASE}
    free = [tree for tree in trees if tree.pk not in alone]
    season = care_plan.season_now(trees[0], context)
    in_season = season is not None and care_plan.comes_ripe(*season, context.today)
    picked = _picked_on(free or trees, tests, season if in_season else None, context)
    first = fruit.ready_since(tests, picked)
    pick_by = care_plan.pick_by(trees[0], first, context) if first else None
    late = pick_by is not None and pick_by <= context.today
    return KindRipeness(
        kind=trees[0].kind,
        block=trees[0].block,
        trees=tuple(trees),
        held_trees=tuple(under_hold),
        season=season,
        in_season=in_season,
        tests=tuple(tests),
        picked_on=picked,
        pick_by=pick_by,
        is_late=late and not under_hold,
    )


def _picked_on(
    trees: Sequence[GrowingTree],
    tests: Sequence[MaturityReading],
    season: tuple[date, date] | None,
    context: Context,
) -> date | None:
    """Return when the last tree was picked since the newest test, or this season."""
    if tests:
        begins = tests[0].test.tested_on
    elif season is not None:
        begins = season[0] - care_plan.tested_before()
    else:
        return None
    days = [care_plan.picked_on(tree, context) for tree in trees]
    picked = [day for day in days if day is not None and day >= begins]
    return max(picked) if len(picked) == len(trees) else None


def _order(row: KindRipeness) -> tuple[bool, bool, date, str, str]:
    begins = row.season[0] if row.season else date.max
    return (
        not row.is_ready,
        not row.in_season,
        begins,
        row.kind.name,
        row.block.code,
    )
