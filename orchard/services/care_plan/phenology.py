"""What grows on a tree now: its noted stage, soft shoots, and fruit coming ripe."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta

from orchard.records.models import GrowingTree
from orchard.science import guide
from orchard.science.figures import days, figure, stages
from orchard.science.guide import Cultivar
from orchard.science.ripeness import Readiness
from orchard.science.windows import Measured, season_year
from orchard.science.words import JobRole
from orchard.services import fruit
from orchard.services.care_plan.context import Context
from orchard.services.fruit import MaturityReading

SOFT_OR_BLOOM = ("soft_leaves", "soft_shoots", "bloom")


def _noted(tree: GrowingTree, context: Context) -> list[tuple[int, date]]:
    """List the growth stages noted of a tree or its group, newest last."""
    own = context.stages.get(tree.pk, ())
    group = context.stages.get(tree.kind.group, ()) if tree.kind.group else ()
    noted = [row for row in (*own, *group) if row[1] <= context.today]
    return sorted(noted, key=lambda row: (row[1], row[0]))


def stage_now(tree: GrowingTree, context: Context) -> int | None:
    """Return the growth stage that was lately noted of a tree or its group, if any."""
    noted = _noted(tree, context)
    if not noted or noted[-1][1] < context.today - days("stage_note_days"):
        return None
    return noted[-1][0]


def in_soft_growth(tree: GrowingTree, context: Context) -> bool:
    """Tell whether a tree was lately seen in soft growth or bloom."""
    key = (context.stages.get(tree.pk), tree.kind.group)
    if key not in context.in_soft_growth:
        context.in_soft_growth[key] = _newest_is_soft(_noted(tree, context), context)
    return context.in_soft_growth[key]


def _newest_is_soft(noted: Sequence[tuple[int, date]], context: Context) -> bool:
    if not noted or noted[-1][1] < context.today - days("stage_note_days"):
        return False
    return any(noted[-1][0] in stages(span) for span in SOFT_OR_BLOOM)


def ripe_seasons(
    trees: Iterable[GrowingTree], context: Context
) -> Iterator[tuple[str, date, date]]:
    """Yield the usual ripe seasons, around today, of the cultivars that hang here.

    A season in which every tree of the cultivar was picked already is left out.
    """
    book = guide.load().cultivars
    bearing: dict[str, list[GrowingTree]] = defaultdict(list)
    for tree in trees:
        if context.facts_of(tree).get("bearing") is True:
            bearing[tree.kind.guide_key].append(tree)
    for key, rows in bearing.items():
        if key not in book:
            continue
        for name, first, last in _seasons(book[key], context):
            if not all(
                picked_since(tree, first - tested_before(), context) for tree in rows
            ):
                yield name, first, last


def season_now(tree: GrowingTree, context: Context) -> tuple[date, date] | None:
    """Return the usual ripe season of a tree's kind that is on, else the next one."""
    cultivar = guide.load().cultivars.get(tree.kind.guide_key)
    if cultivar is None:
        return None
    coming = [
        season_row
        for season_row in _seasons(cultivar, context)
        if season_row[2] >= context.today
    ]
    return min((first, last) for _name, first, last in coming) if coming else None


def pick_by(tree: GrowingTree, ready_on: date, context: Context) -> date:
    """Return the last day for picking fruit that was found ready on a day.

    The earlier of the weeks it hangs after it was found ready, and some days after its
    usual season.
    """
    cultivar = guide.load().cultivars.get(tree.kind.guide_key)
    hangs = timedelta(weeks=cultivar.hang_weeks) if cultivar else timedelta(0)
    ends = [ready_on + (hangs or days("ripe_due_days"))]
    if cultivar is not None:
        ends += [
            last + days("pick_after_season_days")
            for _name, first, last in _seasons(cultivar, context)
            if comes_ripe(first, last, ready_on)
        ]
    return min(ends)


def picked_on(tree: GrowingTree, context: Context) -> date | None:
    """Return the day on which a tree was last picked, by what was noted or done."""
    return context.picked.get(tree.pk)


def picked_since(tree: GrowingTree, day: date, context: Context) -> bool:
    """Tell whether a tree was picked on a day or after it."""
    picked = picked_on(tree, context)
    return picked is not None and picked >= day


def comes_ripe(first: date, last: date, on: date) -> bool:
    """Tell whether a day lies in a ripe season or the weeks of tests before it."""
    return first - tested_before() <= on <= last


def tested_before() -> timedelta:
    """Return how long before its usual season a kind is first tested."""
    trigger = guide.load().job(JobRole.RIPENESS_TEST).trigger
    assert isinstance(trigger, Measured)
    return timedelta(days=float(trigger.setting("lead_days")))


def retest_after() -> timedelta:
    """Return how soon fruit that fell short is tested again."""
    return days("ripeness_again_days")


def _seasons(cultivar: Cultivar, context: Context) -> Iterator[tuple[str, date, date]]:
    this = season_year(context.today, context.latitude)
    years = range(this - 1, this + 2)
    for first, last in fruit.usual_seasons(cultivar, years, context.latitude):
        yield cultivar.name, first, last


def waits_for_ripe(trigger: Measured) -> bool:
    """Tell whether a trigger waits until fruit was found ready."""
    return trigger.kind == "maturity" and bool(dict(trigger.settings).get("ready"))


def ready(
    trees: Iterable[GrowingTree], context: Context
) -> Iterator[tuple[str, date, date]]:
    """Yield each kind whose fruit was found ready, the day, and by when to pick it.

    A test of its kind decides; where none was made, ripeness that was noted (BBCH 89).
    Not once the harvest that followed is over.
    """
    found: dict[str, tuple[date, date]] = {}
    for tree in trees:
        day = _ready_on(tree, context)
        if day is not None:
            name = tree.kind.guide_key or tree.kind.name
            found[name] = max(day, found.get(name, day))
    for name, (on, last) in found.items():
        yield name, on, last


def _ready_on(tree: GrowingTree, context: Context) -> tuple[date, date] | None:
    """Return when fruit was last found ready, and by when it is to be picked."""
    key = (
        (tree.kind.group, tree.kind.guide_key, context.stages.get(tree.pk)),
        (tree.block_id, tree.kind_id, picked_on(tree, context)),
    )
    if key not in context.ready_on:
        context.ready_on[key] = _find_ready(tree, context)
    return context.ready_on[key]


def _find_ready(tree: GrowingTree, context: Context) -> tuple[date, date] | None:
    ripe, since = figure("ripe_bbch").value, context.today - days("ripe_stage_days")
    noted = [
        day for code, day in _noted(tree, context) if code == ripe and day >= since
    ]
    by_eye = max(noted, default=None)
    picked = picked_on(tree, context)
    tests = tests_of(tree, context)
    newest = tests[0].test.tested_on if tests else None
    if by_eye is not None and (newest is None or by_eye > newest):
        if picked is not None and picked >= by_eye:
            return None
        return by_eye, pick_by(tree, by_eye, context)
    first = fruit.ready_since(tests, picked)
    if newest is None or first is None:
        return None
    return newest, pick_by(tree, first, context)


def tests_of(tree: GrowingTree, context: Context) -> tuple[MaturityReading, ...]:
    """Return the tests that speak for a tree, newest first."""
    return context.ripe_tests.get((tree.block_id, tree.kind_id), ())


def retest_on(trees: Iterable[GrowingTree], context: Context) -> date | None:
    """Return the first day on which fruit that fell short is tested again."""
    days = [
        tests[0].test.tested_on + retest_after()
        for tree in trees
        if (tests := tests_of(tree, context))
        if tests[0].answer.readiness is Readiness.NOT_YET
    ]
    return min(days, default=None)
