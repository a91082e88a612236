"""Tasting: fruit pressed and tasted as it comes ripe, in the seasons of late."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from random import Random
from typing import Any

from orchard.demonstration.scene import Scene
from orchard.records.models import Tree
from orchard.science import guide
from orchard.science.windows import day_in_season, season_year
from orchard.science.words import WorkKind
from orchard.services import holds, ripeness

# Only the last season: older tests tell of fruit that is long gone.
SINCE = timedelta(days=150)
LEAD = timedelta(days=21)
# From the first test to fruit as good as it gets.
COMES_RIPE = timedelta(days=56)
EVERY_MORNINGS = 3
# Sugar, acid and juice at the first test, and at the end.
COURSE = {
    "lemon": ((7.0, 6.4, 19.0), (8.2, 5.2, 36.0)),
    "lime": ((7.0, 6.6, 36.0), (8.6, 5.8, 46.0)),
    "grapefruit": ((8.2, 2.2, 30.0), (10.2, 1.3, 42.0)),
}
USUAL = ((8.4, 1.9, 31.0), (11.8, 1.0, 44.0))
TASTES = (1, 2, 2, 2, 3, 4, 5)
TASTERS = 3
# Yellow rind at the first test and at the end, and from where on it is scented.
YELLOW = (10.0, 90.0)
SCENTED_FROM = 0.6


# A tree of a morning, by its code, and how far its fruit has come, 0 to 1.
Tested = tuple[str, float]


def due(scene: Scene, mornings: Sequence[date]) -> dict[date, list[Tested]]:
    """Return what is tested on each morning."""
    lately = [day for day in mornings if day >= scene.ends_on - SINCE]
    first: dict[tuple[int, int], Tree] = {}
    for tree in scene.trees.values():
        if scene.bears(tree, scene.ends_on - SINCE):
            first.setdefault((tree.spot.block_id, tree.kind_id), tree)
    found: dict[date, list[Tested]] = defaultdict(list)
    for number, tree in enumerate(first.values()):
        for day in lately[number % EVERY_MORNINGS :: EVERY_MORNINGS]:
            share = _share(scene, tree, day)
            if share is not None:
                found[day].append((tree.code, share))
                if share >= 1:
                    break
    return found


def _share(scene: Scene, tree: Tree, day: date) -> float | None:
    cultivar = guide.load().cultivars.get(tree.kind.guide_key)
    if cultivar is None or cultivar.ripe is None:
        return None
    year = season_year(day, scene.latitude)
    for early in (year - 1, year):
        begins = day_in_season(early, cultivar.ripe[0], 1, scene.latitude) - LEAD
        if begins <= day <= begins + COMES_RIPE * 2:
            return min((day - begins) / COMES_RIPE, 1.0)
    return None


def test_all(
    scene: Scene, tested: Sequence[Tested], dice: Random, name: str, day: date
) -> None:
    """Note the tests of a morning, as far as the trees still grow."""
    shares = dict(tested)
    trees = (
        Tree.objects.in_orchard(scene.orchard)
        .looked_after()
        .filter(code__in=shares)
        .select_related("kind", "spot__block")
        .order_by("code")
    )
    for tree in trees:
        tree.orchard = scene.orchard
    closed = closed_trees(scene, trees, day)
    ripeness.note_tests(
        [
            (tree, _readings(tree, shares[tree.code], dice))
            for tree in trees
            if tree.pk not in closed
        ],
        tested_on=day,
        fruits=5,
        by=scene.people[name],
        now=scene.at(day, 10, 30),
        today=day,
    )


def closed_trees(scene: Scene, trees: Iterable[Tree], day: date) -> set[int]:
    """Name the trees that a hold or a treatment lets nobody taste of."""
    numbers = frozenset(tree.pk for tree in trees)
    at = datetime.combine(day, time(), tzinfo=scene.zone)
    left_alone = holds.holds_of(
        scene.orchard, numbers, today=day, now=at, forbidding=WorkKind.SAMPLING
    )
    treated = holds.after_treatments(scene.orchard, numbers, at)
    return {*left_alone} | {
        number
        for number, after in treated.items()
        if after.is_locked(after.openings.entry, at)
        or after.is_locked(after.openings.fruit, at)
    }


def _readings(tree: Tree, share: float, dice: Random) -> dict[str, Any]:
    """Return what is measured of fruit that has come so far."""
    cultivar = guide.load().cultivars[tree.kind.guide_key]
    if cultivar.is_judged_by_colour:
        early, late = YELLOW
        return {
            "colour_percent": float(round(early + (late - early) * share)),
            "scented": share >= SCENTED_FROM,
        }
    begin, end = COURSE.get(cultivar.maturity, USUAL)
    brix, acid, juice = (
        round((early + (late - early) * share) * (1 + dice.gauss(0, 0.015)), 1)
        for early, late in zip(begin, end, strict=True)
    )
    return {
        "brix_read": brix,
        "acid_percent": acid,
        "juice_percent": juice,
        "taste": TASTES[min(int(share * len(TASTES)), len(TASTES) - 1)],
        "tasters": TASTERS,
    }
