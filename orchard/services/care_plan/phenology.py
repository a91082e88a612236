"""What grows on a tree now: its noted stage, soft shoots, and fruit coming ripe."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from orchard.records.models import Tree
from orchard.science import guide
from orchard.science.events import EventKind
from orchard.science.figures import days, figure, stages
from orchard.science.guide import Cultivar
from orchard.science.ripeness import Readiness
from orchard.science.windows import History, Measured, day_in_season, season_year
from orchard.science.words import JobRole
from orchard.services.care_plan.context import Context
from orchard.services.fruit import MaturityReading

SOFT_OR_BLOOM = ("soft_leaves", "soft_shoots", "bloom")


def _noted(tree: Tree, context: Context) -> list[tuple[int, date]]:
    """List the growth stages noted of a tree or its group, newest last."""
    own = context.stages.get(tree.pk, ())
    group = context.stages.get(tree.kind.group, ()) if tree.kind.group else ()
    noted = [row for row in (*own, *group) if row[1] <= context.today]
    return sorted(noted, key=lambda row: (row[1], row[0]))


def in_soft_growth(tree: Tree, context: Context) -> bool:
    """Tell whether a tree was lately seen in soft growth or bloom."""
    noted = _noted(tree, context)
    if not noted or noted[-1][1] < context.today - days("stage_note_days"):
        return False
    return any(noted[-1][0] in stages(span) for span in SOFT_OR_BLOOM)


def ripe_seasons(
    trees: Iterable[Tree], context: Context
) -> Iterator[tuple[str, date, date]]:
    """Yield the usual ripe seasons, around today, of the cultivars that bear here."""
    book = guide.load().cultivars
    seen = set()
    for tree in trees:
        cultivar = book.get(tree.kind.guide_key)
        bears = context.facts[tree.pk].get("bearing") is True
        if cultivar is None or not bears or cultivar.name in seen:
            continue
        seen.add(cultivar.name)
        yield from _seasons(cultivar, context)


def season_now(tree: Tree, context: Context) -> tuple[date, date] | None:
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


def ends_of_season(tree: Tree, on: date, context: Context) -> date | None:
    """Return until when fruit that came ripe around a day usually stays good."""
    cultivar = guide.load().cultivars.get(tree.kind.guide_key)
    if cultivar is None:
        return None
    ends = [
        last
        for _name, first, last in _seasons(cultivar, context)
        if comes_ripe(first, last, on)
    ]
    return max(ends, default=None)


def comes_ripe(first: date, last: date, on: date) -> bool:
    """Tell whether a day lies in a ripe season or the weeks of tests before it."""
    return first - tested_before() <= on <= last


def tested_before() -> timedelta:
    """Return how long before its usual season a kind is first tested."""
    trigger = guide.load().job(JobRole.RIPENESS_TEST).trigger
    assert isinstance(trigger, Measured)
    return timedelta(days=float(trigger.setting("lead_days")))


def taste_again_after() -> timedelta:
    """Return how soon fruit that was nearly ready is tested again."""
    return days("ripeness_again_days")


def _seasons(cultivar: Cultivar, context: Context) -> Iterator[tuple[str, date, date]]:
    if cultivar.ripe is None:
        return
    first, last = cultivar.ripe
    this = season_year(context.today, context.latitude)
    for year in (this - 1, this, this + 1):
        opens = day_in_season(year, first, 1, context.latitude)
        ends = day_in_season(year + (last < first), last, 31, context.latitude)
        yield cultivar.name, opens, ends + timedelta(weeks=cultivar.hang_weeks)


def waits_for_ripe(trigger: Measured) -> bool:
    """Tell whether a trigger waits until fruit was found ready."""
    return trigger.kind == "maturity" and bool(dict(trigger.settings).get("ready"))


def ready(
    trees: Iterable[Tree], context: Context, history: History
) -> Iterator[tuple[str, date]]:
    """Yield each kind whose fruit was found ready for picking, and the day.

    A test of its kind decides; where none was made, ripeness that was noted (BBCH 89).
    Not once the harvest that followed is over.
    """
    picked = max(history.days_of(EventKind.HARVESTED.guide_name), default=None)
    found: dict[str, date] = {}
    for tree in trees:
        day = _ready_on(tree, context)
        if day is not None and (picked is None or picked < day):
            name = tree.kind.guide_key or tree.kind.name
            found[name] = max(day, found.get(name, day))
    yield from found.items()


def _ready_on(tree: Tree, context: Context) -> date | None:
    ripe, since = figure("ripe_bbch").value, context.today - days("ripe_stage_days")
    noted = [
        day for code, day in _noted(tree, context) if code == ripe and day >= since
    ]
    by_eye = max(noted, default=None)
    tested = _newest_test(tree, context)
    if tested is None or (by_eye is not None and by_eye > tested.test.tested_on):
        return by_eye
    return tested.test.tested_on if tested.is_ready else None


def _newest_test(tree: Tree, context: Context) -> MaturityReading | None:
    tests = context.ripe_tests.get((tree.spot.block_id, tree.kind_id))
    return tests[0] if tests else None


def taste_again_on(trees: Iterable[Tree], context: Context) -> date | None:
    """Return the first day on which fruit that was nearly ready is tested again."""
    days = [
        tested.test.tested_on + taste_again_after()
        for tree in trees
        if (tested := _newest_test(tree, context))
        if tested.answer.readiness is Readiness.TASTE_AGAIN
    ]
    return min(days, default=None)
