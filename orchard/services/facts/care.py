"""What is known of a tree that decides which jobs of the care plan apply to it."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from orchard.records.models import (
    CrownSize,
    GrowingTree,
    Orchard,
    Target,
    Tree,
    job_keys,
)
from orchard.science import guide
from orchard.science.events import EventKind
from orchard.science.figures import figure
from orchard.science.guide import Cultivar, Value
from orchard.science.windows import season_month
from orchard.science.words import JobRole

WEEKS_OF_A_MONTH = 4.35


def bared_lately(
    worked: Mapping[tuple[Target, str], Iterable[date]],
    happened: Mapping[int | None, Iterable[tuple[str, date]]],
    today: date,
) -> frozenset[int]:
    """Find the trees whose shaded bark cuts or a wound laid open to the sun."""
    since = today - timedelta(days=figure("pruned_lately_days").value)
    pruning = job_keys(JobRole.PRUNING)
    bared = [
        (target.tree_id, day)
        for (target, job), cuts in worked.items()
        if job in pruning
        for day in cuts
    ] + [
        (tree_id, day)
        for tree_id, events in happened.items()
        for what, day in events
        if what == EventKind.BARK_BARED.guide_name
    ]
    return frozenset(
        tree_id
        for tree_id, day in bared
        if tree_id is not None and since <= day <= today
    )


def large_crowns(sizes: Mapping[int, CrownSize]) -> frozenset[int]:
    """Find the trees whose newest crown is too high or too wide for a cover.

    A tree that nobody has measured can be covered.
    """
    widest = figure("frost_cover_width_m").value
    highest = figure("frost_cover_height_m").value
    return frozenset(
        tree_id
        for tree_id, size in sizes.items()
        if size.width_m > widest or (size.height_m or 0.0) > highest
    )


@dataclass(frozen=True, slots=True)
class CareFacts:
    """The facts that decide which jobs apply to trees, each set of facts once.

    `sorts` are the sets of facts, `sort_of` the place there of each tree's.
    """

    sorts: tuple[Mapping[str, Value | None], ...]
    sort_of: Mapping[int, int]

    def facts(self, tree: GrowingTree) -> Mapping[str, Value | None]:
        """Return what is known of a tree."""
        return self.sorts[self.sort_of[tree.pk]]


def care_facts_of(
    trees: Iterable[GrowingTree],
    orchard: Orchard,
    today: date,
    *,
    bared: Container[int],
    large: Container[int],
) -> CareFacts:
    """Return what is known of trees that decides which jobs apply to them.

    `bared` and `large` are those whose bark lies open, and that no cover fits.
    """
    places: dict[tuple[object, ...], int] = {}
    sorts: list[Mapping[str, Value | None]] = []
    sort_of: dict[int, int] = {}
    for tree in trees:
        is_bared, is_large = tree.pk in bared, tree.pk in large
        # All that the facts are made of.
        key = (
            tree.kind_id,
            bool(tree.rootstock),
            tree.own_roots,
            tree.setting,
            tree.dates,
            tree.irrigated,
            tree.staked,
            tree.on_display,
            is_bared,
            is_large,
        )
        place = places.setdefault(key, len(sorts))
        if place == len(sorts):
            sorts.append(
                _facts_of(tree, orchard, today, bared=is_bared, large=is_large)
            )
        sort_of[tree.pk] = place
    return CareFacts(tuple(sorts), sort_of)


def _facts_of(
    tree: GrowingTree, orchard: Orchard, today: date, *, bared: bool, large: bool
) -> dict[str, Value | None]:
    age = tree.dates.age_on(today)
    bearing = None if age is None else age >= figure("bears_from_years").value
    facts: dict[str, Value | None] = {
        "host": tree.kind.host if tree.kind.host != "any" else None,
        "cultivar": tree.kind.name,
        "setting": tree.setting,
        "age_y": age,
        "planted_d": tree.dates.planted_days_on(today),
        "bearing": bearing,
        "grafted": True if tree.rootstock else False if tree.own_roots else None,
        "on_own_roots": tree.own_roots,
        "tenderness": tree.kind.tender_class or None,
        "staked": tree.staked,
        "large_crown": large,
        "irrigated": tree.irrigated,
        "on_display": tree.on_display,
        "fruit_fly_area": orchard.fruit_fly_area,
        "heat_tender": _heat_tender(tree, age, bared=bared),
        "tree_state": "alive",
    }
    cultivar = guide.load().cultivars.get(tree.kind.guide_key)
    if cultivar is not None and bearing is not None:
        month = season_month(today, float(orchard.latitude))
        facts["fruit_ripe"] = bearing and month in cultivar.ripe_months
        facts["fruit_hanging"] = bearing and month in _hanging_months(cultivar)
    return facts


def _heat_tender(tree: GrowingTree, age: float | None, *, bared: bool) -> bool | None:
    """Tell whether heat hurts a tree early: young, pruned lately, or in a pot.

    Five years as for frost.
    """
    if bared or tree.setting == Tree.Setting.CONTAINER:
        return True
    if age is None:
        return None
    return age < figure("frost_young_years").value


def _hanging_months(cultivar: Cultivar) -> set[int]:
    """List the season months in which fruit is on the tree, ripe or not."""
    if cultivar.ripe is None:
        return set()
    first, last = cultivar.ripe
    citrus = cultivar.host == "citrus"
    start = (
        round(figure("citrus_hangs_from_month").value)
        if citrus
        else first - round(figure("other_fruit_hangs_months").value)
    )
    ripe_months = round(cultivar.hang_weeks / WEEKS_OF_A_MONTH)
    length = (last - start) % 12 + ripe_months
    return {(start - 1 + step) % 12 + 1 for step in range(min(length, 11) + 1)}
