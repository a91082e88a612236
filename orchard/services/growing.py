"""What grows on a tree now: its noted stage, soft shoots, and fruit coming ripe."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from orchard.records.models import Tree
from orchard.science import guide
from orchard.science.guide.shapes import Cultivar
from orchard.science.windows import History, day_in_season, season_year
from orchard.services.care import Knowledge

RIPE_BBCH = 89
RIPE_HOLDS = timedelta(days=180)
SOFT_OR_BLOOM = (range(10, 20), range(31, 40), range(60, 70))
STAGE_HOLDS = timedelta(days=60)


def _noted(tree: Tree, known: Knowledge) -> list[tuple[int, date]]:
    """List the growth stages noted of a tree or its group, newest last."""
    own = known.stages.get(tree.pk, ())
    group = known.stages.get(tree.kind.group, ()) if tree.kind.group else ()
    noted = [row for row in (*own, *group) if row[1] <= known.today]
    return sorted(noted, key=lambda row: (row[1], row[0]))


def in_soft_growth(tree: Tree, known: Knowledge) -> bool:
    """Tell whether a tree was lately seen in soft growth or bloom."""
    noted = _noted(tree, known)
    if not noted or noted[-1][1] < known.today - STAGE_HOLDS:
        return False
    return any(noted[-1][0] in stages for stages in SOFT_OR_BLOOM)


def ripe_seasons(
    trees: Iterable[Tree], known: Knowledge
) -> Iterator[tuple[str, date, date]]:
    """Yield the usual ripe seasons, around today, of the cultivars that bear here."""
    book = guide.load().cultivars
    seen = set()
    for tree in trees:
        cultivar = book.get(tree.kind.guide_key)
        bears = known.facts[tree.pk].get("bearing") is True
        if cultivar is None or not bears or cultivar.name in seen:
            continue
        seen.add(cultivar.name)
        yield from _seasons(cultivar, known)


def _seasons(cultivar: Cultivar, known: Knowledge) -> Iterator[tuple[str, date, date]]:
    if cultivar.ripe is None:
        return
    first, last = cultivar.ripe
    this = season_year(known.today, known.latitude)
    for year in (this - 1, this, this + 1):
        opens = day_in_season(year, first, 1, known.latitude)
        ends = day_in_season(year + (last < first), last, 31, known.latitude)
        yield cultivar.name, opens, ends + timedelta(weeks=cultivar.hang_weeks)


def ready_on(trees: Iterable[Tree], known: Knowledge, history: History) -> date | None:
    """Return the day on which fruit was noted as ripe for picking (BBCH 89).

    Not once the harvest that followed is over.
    """
    noted = [
        day
        for tree in trees
        for code, day in _noted(tree, known)
        if code == RIPE_BBCH and day >= known.today - RIPE_HOLDS
    ]
    newest = max(noted, default=None)
    picked = max(history.days_of("harvest_done"), default=None)
    if newest is not None and picked is not None and picked >= newest:
        return None
    return newest
