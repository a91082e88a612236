"""A frost night tree by tree: what it may cost, what to cover, what to cut open."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import cache
from typing import NamedTuple
from zoneinfo import ZoneInfo

from orchard.records.days import day_in
from orchard.records.models import (
    Closure,
    GrowingTree,
    Orchard,
    Task,
    Tree,
    job_keys,
)
from orchard.science import frost, guide
from orchard.science.figures import days, figure
from orchard.science.windows import AfterEvent
from orchard.science.words import JobRole
from orchard.services import care_plan, holds
from orchard.services.care_plan import Context, gather_context
from orchard.services.frost import evenings
from orchard.services.frost import tonight as nights
from orchard.services.frost.tonight import Curve, Night
from orchard.services.holds import TreeHold
from orchard.services.weather import night_name

WORST_FIRST = (
    frost.Harm.TREE,
    frost.Harm.WOOD,
    frost.Harm.SOFT_GROWTH,
    frost.Harm.NONE,
)
FRUIT_FIRST = (
    frost.FruitFrost.HOLD,
    frost.FruitFrost.CUT_TEST,
    frost.FruitFrost.UNKNOWN,
    frost.FruitFrost.SAFE,
)


# Growing trees, those together that have the same to lose in a night.
Groups = Sequence[Sequence[GrowingTree]]


class TreeNight(NamedTuple):
    """One tree in a night: its limit, what it is made of, and what may be lost."""

    tree: GrowingTree
    risk: frost.Risk
    has_class: bool
    fruit_hangs: bool
    fruit_ripe: bool
    too_large: bool
    wrap_trunk: bool
    hours_below: float | None


@dataclass(frozen=True, slots=True)
class Threshold:
    """One limit of the night, how many trees share it, how long it is undercut."""

    limit_c: float
    trees: int
    hours: float | None


@dataclass(frozen=True, slots=True)
class Covered:
    """A tree whose cover is still on, and who put it on."""

    tree: Tree
    task: Task
    covered_on: date | None
    by: tuple[str, ...]
    off_by: time
    late: bool


@dataclass(frozen=True, slots=True)
class NightAhead:
    """A night after the coming one: its minimum here, how many trees reach limits."""

    name: str
    dawn_on: date
    expected_c: float
    reached: int


@dataclass(frozen=True, slots=True)
class Brief:
    """The coming night in one sentence, for a first screen."""

    night: Night
    reached: int
    # The hour by which covers go on is past.
    is_late: bool


@dataclass(frozen=True, slots=True)
class NightInShort:
    """The coming night in a few lines, among other matters."""

    night: Night
    reached: int
    covered: tuple[Covered, ...]
    cut_tests: tuple[Task, ...]


@dataclass(frozen=True, slots=True)
class FrostNight:
    """All that the frost page says of the coming night."""

    night: Night
    rows: tuple[TreeNight, ...]
    large: tuple[TreeNight, ...]
    safe: tuple[TreeNight, ...]
    thresholds: tuple[Threshold, ...]
    covered: tuple[Covered, ...]
    reached: int
    with_task: frozenset[int]
    cut_tests: tuple[Task, ...]
    later: tuple[NightAhead, ...]


def risk_tonight(
    orchard: Orchard,
    *,
    now: datetime,
    today: date,
    evening_c: float | None = None,
) -> FrostNight:
    """Weigh the coming night against every growing tree, worst loss first."""
    night = nights.tonight(orchard, now=now, evening_c=evening_c)
    context = gather_context(orchard, today=today)
    groups = _trees_alike(context, night)
    weighed = tuple(_weighed(groups, context, night))
    rows = sorted((row for row in weighed if row.risk.cover), key=_by_loss)
    tasks = _frost_tasks(orchard)
    return FrostNight(
        night=night,
        rows=tuple(row for row in rows if not row.too_large),
        large=tuple(row for row in rows if row.too_large),
        safe=tuple(
            sorted(
                (row for row in weighed if not row.risk.cover),
                key=lambda row: (row.risk.spare_c, row.tree.code),
            )
        ),
        thresholds=_thresholds(weighed, night.curve),
        covered=_covered(orchard, tasks, now=now, today=today),
        reached=len(rows),
        with_task=frozenset(
            task.tree_id
            for task in tasks
            if task.tree_id and task.has_role(JobRole.COVER_ON)
        ),
        cut_tests=holds.cut_tests(orchard),
        later=_nights_ahead(groups, context, night),
    )


def tonight_in_short(
    orchard: Orchard, *, now: datetime, today: date, context: Context
) -> NightInShort:
    """Count the trees that reach their limit in the coming night, and what waits.

    `context` is what the care plan knows today.
    """
    night = nights.tonight(orchard, now=now)
    return NightInShort(
        night=night,
        reached=_count_reached(context, night),
        covered=covers_on(orchard, now=now, today=today),
        cut_tests=holds.cut_tests(orchard),
    )


def brief_of_tonight(
    orchard: Orchard,
    *,
    now: datetime,
    today: date,
    holds: Mapping[int, tuple[TreeHold, ...]] | None = None,
) -> Brief | None:
    """Return the night from noon until sunrise, where some tree reaches its limit.

    `holds` are those of all trees, where they are read already.
    """
    local = now.astimezone(ZoneInfo(orchard.time_zone))
    # Before noon the night is still far off, unless it is the one that is ending.
    if local.hour < 12 and evenings.coming_dawn(orchard, now) != local.date():
        return None
    night = nights.tonight(orchard, now=now)
    if not _may_reach_limits(night):
        return None
    context = gather_context(orchard, today=today, holds=holds)
    reached = _count_reached(context, night)
    is_late = night.clock is not None and now > night.clock.cover_by
    return Brief(night, reached, is_late) if reached else None


def night_of_tree(tree: Tree, *, now: datetime) -> tuple[Night, TreeNight] | None:
    """Return the coming night for one tree, where it reaches the tree's limit."""
    orchard = tree.orchard
    night = nights.tonight(orchard, now=now)
    if not _may_reach_limits(night):
        return None
    today = day_in(now, orchard.time_zone)
    context = gather_context(orchard, today=today)
    for row in _weighed(_trees_alike(context, night), context, night):
        if row.tree.pk == tree.pk and row.risk.cover:
            return night, row
    return None


def _may_reach_limits(night: Night) -> bool:
    """Tell whether any tree could reach its limit, before trees are looked at."""
    if not night.expected.is_known:
        return False
    coldest = [night.expected_at(spot) for spot in (0, *filter(None, night.offsets))]
    highest = figure("frost_cover_highest_c").value
    return any(low is not None and low <= highest for low in coldest)


def _trees_alike(context: Context, night: Night) -> Groups:
    """Put the trees together that have the same to lose, at spots that are as cold."""
    found: dict[object, list[GrowingTree]] = defaultdict(list)
    for tree in context.trees:
        traits = care_plan.frost_traits(tree, context)
        found[night.offset_at(tree.spot_id), traits].append(tree)
    return list(found.values())


def _nights_ahead(
    groups: Groups, context: Context, night: Night
) -> tuple[NightAhead, ...]:
    """Return the nights after the coming one, as far as the forecast goes."""
    if not night.later:
        return ()
    limits: Counter[tuple[float, float]] = Counter()
    for trees in groups:
        limit = care_plan.cover_at(trees[0], context)
        limits[night.offset_at(trees[0].spot_id), limit] += len(trees)
    offset = night.offset.value or 0.0
    return tuple(
        NightAhead(
            name=night_name(row.on),
            dawn_on=row.on,
            expected_c=row.tmin + offset,
            reached=sum(
                trees
                for (spot_offset, limit), trees in limits.items()
                if row.tmin + spot_offset <= limit
            ),
        )
        for row in night.later
        if row.tmin is not None
    )


def _weighed(groups: Groups, context: Context, night: Night) -> list[TreeNight]:
    return [
        shared._replace(tree=tree)
        for shared, trees in _weighed_groups(groups, context, night)
        for tree in trees
    ]


def _weighed_groups(
    groups: Groups, context: Context, night: Night
) -> Iterator[tuple[TreeNight, Sequence[GrowingTree]]]:
    """Yield what the night means for the first tree of each group, and the group."""
    # Few limits and few minima are shared by all trees.
    hours_below = cache(night.curve.hours_below) if night.curve else None
    for trees in groups:
        expected = night.expected_at(trees[0].spot_id)
        if expected is not None:
            yield _tree_night(trees[0], context, expected, hours_below), trees


def _count_reached(context: Context, night: Night) -> int:
    """Count the trees that reach their limit in a night."""
    groups = _trees_alike(context, night)
    return sum(
        len(trees)
        for shared, trees in _weighed_groups(groups, context, night)
        if shared.risk.cover
    )


def _tree_night(
    tree: GrowingTree,
    context: Context,
    expected: float,
    hours_below: Callable[[float, float], float] | None,
) -> TreeNight:
    facts = context.facts_of(tree)
    hangs = facts.get("fruit_hanging") is True
    below: dict[str, float | None] = {"check": None, "hold": None}
    if hours_below is not None:
        for name in below:
            limit = figure(f"fruit_{name}_c").value
            below[name] = hours_below(limit, expected) if expected <= limit else 0
    risk = care_plan.tree_risk(
        tree,
        expected,
        context,
        hours_check=below["check"],
        hours_hold=below["hold"],
    )
    return TreeNight(
        tree=tree,
        risk=risk,
        has_class=bool(tree.kind.tender_class),
        fruit_hangs=hangs,
        fruit_ripe=facts.get("fruit_ripe") is True,
        too_large=facts.get("large_crown") is True,
        wrap_trunk=_has_young_trunk(tree, context.today),
        hours_below=(
            hours_below(risk.cover_at_c, expected)
            if hours_below is not None and expected <= risk.cover_at_c
            else None
        ),
    )


def _has_young_trunk(tree: GrowingTree, today: date) -> bool:
    years = tree.dates.planted_years_on(today)
    return years is not None and years < figure("frost_trunk_years").value


def _by_loss(row: TreeNight) -> tuple[int, int, float, str]:
    fruit_at_stake = FRUIT_FIRST.index(row.risk.fruit) if row.fruit_hangs else 9
    harm = WORST_FIRST.index(row.risk.harm)
    return harm, fruit_at_stake, row.risk.spare_c, row.tree.code


def _thresholds(
    weighed: tuple[TreeNight, ...], curve: Curve | None
) -> tuple[Threshold, ...]:
    limits: dict[float, int] = defaultdict(int)
    for row in weighed:
        limits[round(row.risk.cover_at_c, 1)] += 1
    return tuple(
        Threshold(
            limit_c=limit,
            trees=count,
            hours=curve.hours_below(limit, curve.minimum_c) if curve else None,
        )
        for limit, count in sorted(limits.items(), reverse=True)
    )


def _frost_tasks(orchard: Orchard) -> list[Task]:
    return list(
        Task.objects.in_orchard(orchard)
        .open()
        .with_role(JobRole.COVER_ON, JobRole.COVER_OFF)
        .select_related("tree__kind", "taken_by")
        .order_by("due_on", "id")
    )


def covers_on(orchard: Orchard, *, now: datetime, today: date) -> tuple[Covered, ...]:
    """List the trees whose covers are to come off, and which of them are late.

    Late is after the hour of the morning that the guide gives, by the orchard's own
    clock.
    """
    return _covered(orchard, _frost_tasks(orchard), now=now, today=today)


def _covered(
    orchard: Orchard, frost_tasks: Iterable[Task], *, now: datetime, today: date
) -> tuple[Covered, ...]:
    clock = now.astimezone(ZoneInfo(orchard.time_zone)).time()
    tasks = [task for task in frost_tasks if task.has_role(JobRole.COVER_OFF)]
    if not tasks:
        return ()
    closures = (
        Closure.objects.filter(
            task__orchard=orchard,
            task__kind__in=Task.OF_A_JOB,
            task__key__in=job_keys(JobRole.COVER_ON),
            undone_at=None,
            how=Closure.How.DONE,
            done_on__gte=today - days("covers_on_days"),
        )
        .select_related("task__taken_by", "by")
        .order_by("done_on", "id")
    )
    trigger = guide.load().job(JobRole.COVER_OFF).trigger
    assert isinstance(trigger, AfterEvent)
    off_by = time.fromisoformat(trigger.by_clock)
    last = {closure.task.target: closure for closure in closures}
    found = []
    for task in tasks:
        if task.tree is None or task.opens_on > today:
            continue
        closure = last.get(task.target)
        hands = [task.taken_by, closure.by, closure.task.taken_by] if closure else []
        found.append(
            Covered(
                tree=task.tree,
                task=task,
                covered_on=closure.done_on if closure else None,
                by=tuple(dict.fromkeys(person.name for person in hands if person)),
                off_by=off_by,
                late=task.due_on < today or (task.due_on == today and clock >= off_by),
            )
        )
    return tuple(found)
