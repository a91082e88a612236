"""Water in reach of each tree's roots, reckoned once for trees that share it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import (
    Closure,
    Crown,
    CrownSize,
    GrowingTree,
    Orchard,
    Soil,
    Task,
    Tree,
    TreeDates,
    Watering,
    job_keys,
)
from orchard.science import figures, water
from orchard.science.water import Depletion, PotBalance, WateringSpan, ZoneDay
from orchard.science.words import JobRole
from orchard.services.water.gaps import bridged_air
from orchard.services.water.reference_et import AirDay, air_day, named
from orchard.services.weather import Day, Missing

A_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class GroundWater:
    """What is missing in the ground under some trees, mm, or why that is not known.

    `missing` already has what was given today; `low` and `high` are its range where
    much of it is estimated. `ready` is for the use of these days, `use` a day's.
    """

    total: float = 0.0
    ready: float = 0.0
    depth: float | None = None
    since: Depletion | None = None
    missing: float = 0.0
    low: float | None = None
    high: float | None = None
    use: float = 0.0
    turn: WateringSpan | None = None
    why_not: str = ""

    @property
    def is_known(self) -> bool:
        return self.since is not None and not self.why_not


@dataclass(frozen=True, slots=True)
class PotWater:
    """A container since it was last full for certain, L; or why that is not known.

    `missing` is what would fill it today, what was poured today already in it; `draw`
    what the tree draws in a day, `times` how often a day it is then watered. `low` and
    `high` are the range of what is missing where much of it is estimated.
    """

    days: tuple[PotBalance, ...] = ()
    full_on: date | None = None
    volume: float = 0.0
    total: float = 0.0
    ready: float = 0.0
    missing: float = 0.0
    draw: float = 0.0
    times: int = 1
    turn: WateringSpan | None = None
    low: float | None = None
    high: float | None = None
    estimated_share: float = 0.0
    why_not: str = ""

    @property
    def is_known(self) -> bool:
        return self.full_on is not None

    @property
    def used_share(self) -> float:
        """Give the share of its water that is used up by the end of today."""
        return (self.missing + self.draw) / self.total


@dataclass(frozen=True, slots=True)
class RootWater:
    """What the air took and rain brought, and what each tree was given.

    `days` are all that were read, short gaps bridged; `whole` those without a gap up to
    yesterday. `poured` are litres noted, `ticked` the days on which the job was done.
    """

    today: date
    days: Mapping[date, AirDay]
    whole: tuple[AirDay, ...]
    soil: Soil | None
    crowns: Mapping[int, CrownSize]
    poured: Mapping[int, Mapping[date, float]]
    ticked: Mapping[int, frozenset[date]]
    zone_days: tuple[ZoneDay, ...]
    # By depth of roots, the day on which rain alone last filled the ground; what was
    # given until then changes nothing. `date.min` where there is no such day.
    soaked: Mapping[float | None, date]
    # Trees that share roots and waterings share the balance.
    reckoned: dict[object, GroundWater] = field(default_factory=dict, compare=False)
    # So do pots of a size with like crowns.
    pots: dict[object, PotWater] = field(default_factory=dict, compare=False)
    # By width of the crown and end of the range, what a tree in a pot would draw.
    pot_needs: dict[tuple[float, str], tuple[float, ...]] = field(
        default_factory=dict, compare=False
    )
    # Trees planted on one day root as deep.
    depths: dict[TreeDates, float | None] = field(default_factory=dict, compare=False)

    def filled(self, tree_id: int) -> frozenset[date]:
        """Return the days a tree was watered as the job asks, with no litres noted.

        Where litres are noted they count, for they may be fewer than were needed.
        """
        ticked = self.ticked.get(tree_id)
        if ticked is None:
            return frozenset()
        return frozenset(ticked - self.poured.get(tree_id, {}).keys())

    def mean_use(self, name: str) -> float:
        """Return the mean of the last days, mm: "et0" or "need_mm"."""
        last = self.whole[-int(figures.figure("use_days").value) :]
        values = [getattr(day, name) or 0.0 for day in last]
        return math.fsum(values) / len(values) if values else 0.0


def first_balance_day(today: date) -> date:
    """Return the day on which a balance of the ground's water begins."""
    return today - figures.days("water_balance_days")


def read_root_water(
    orchard: Orchard,
    days: Sequence[Day | Missing],
    *,
    today: date,
    crowns: Mapping[int, CrownSize] | None = None,
) -> RootWater:
    """Read soil, crowns, waterings and work done of an orchard.

    A fixed number of queries, however many trees and days. Water given on days that no
    balance reaches back to any more is not read. `crowns` are the newest of all trees,
    where they are read already.
    """
    soil = Soil.objects.filter(orchard=orchard).order_by("-id").first()
    cover = soil.cover if soil else Soil.Cover.BARE
    days = _from_first_on_record(days)
    past = sum(day.on < today for day in days)
    bridged = bridged_air(orchard, days[:past], cover)
    coming = [air_day(orchard, day, cover) for day in days[past:]]
    whole = _whole_at_end(bridged)
    if crowns is None:
        crowns = Crown.objects.in_orchard(orchard).newest_sizes(today)
    zone_days = tuple(
        ZoneDay(day.on, day.need_mm or 0.0, day.counted_mm or 0.0, day.is_estimated)
        for day in whole
    )
    soaked = _soaked(soil, zone_days) if soil else {}
    pots = pot_days(whole)
    reach_back = min((*soaked.values(), pots[0].on if pots else today))
    begins_on = max(reach_back, whole[0].on if whole else today)
    return RootWater(
        today=today,
        days={day.on: day for day in (*bridged, *coming)},
        whole=whole,
        soil=soil,
        crowns=crowns,
        poured=_poured(orchard, begins_on, today),
        ticked=_ticked(orchard, begins_on, today),
        zone_days=zone_days,
        soaked=soaked,
    )


def _from_first_on_record(days: Sequence[Day | Missing]) -> Sequence[Day | Missing]:
    """Leave out days before the first on record: nothing is reckoned of them.

    The one just before it and the last ones stay, to be told as missing.
    """
    first = next(
        (place for place, day in enumerate(days) if isinstance(day, Day)), len(days)
    )
    last = len(days) - int(figures.figure("use_days").value) - 1
    return days[max(0, min(first - 1, last)) :]


def pot_days(whole: tuple[AirDay, ...]) -> tuple[AirDay, ...]:
    """Return the last whole days, over which the water in a pot is followed."""
    return whole[-int(figures.figure("pot_balance_days").value) :]


def _soaked(soil: Soil, days: Sequence[ZoneDay]) -> dict[float | None, date]:
    """Return when rain alone last filled the ground, by depth of roots.

    `date.min` where days are estimated: then it may have rained too little for it.
    """
    is_certain = not any(day.is_estimated for day in days)
    found = {}
    for depth in _depths_in(soil):
        total, ready = _water_held(soil, depth)
        dry = water.depletion(days, {}, (), total=total, ready=ready)
        found[depth] = dry.full_on if dry and is_certain else date.min
    return found


def _depths_in(soil: Soil) -> set[float | None]:
    """Return all depths that trees new, young and mature root to."""
    if soil.is_strip:
        return {None}
    young = figures.figure("root_young_years").value
    return {_depth_after(soil, years) for years in (0.0, young, young + 1)}


def _whole_at_end(days: Sequence[AirDay]) -> tuple[AirDay, ...]:
    """Return the whole days at the end, back to the first that is not known."""
    count = 0
    for day in reversed(days):
        if not day.is_whole:
            break
        count += 1
    return tuple(days[len(days) - count :])


def _poured(orchard: Orchard, start: date, today: date) -> dict[int, dict[date, float]]:
    """Return the litres noted for each tree, day by day."""
    poured: dict[int, dict[date, float]] = {}
    rows = (
        Watering.objects.in_orchard(orchard)
        .current()
        .filter(given_on__gte=start, given_on__lte=today)
        .order_by("given_on", "id")
        .values_list("tree_id", "given_on", "litres")
    )
    for tree_id, on, litres in rows:
        by_day = poured.setdefault(tree_id, {})
        by_day[on] = by_day.get(on, 0.0) + litres
    return poured


def _ticked(orchard: Orchard, start: date, today: date) -> dict[int, frozenset[date]]:
    """Return the days on which each tree's watering was done; skipped is not done.

    The valves of a block water its trees on a drip line. Where litres were noted with
    the work they alone count, also when they were corrected or withdrawn.
    """
    rows = list(
        Closure.objects.filter(
            task__orchard=orchard,
            task__kind__in=Task.OF_A_JOB,
            task__key__in=job_keys(JobRole.WATERING),
            # What is done is closed: so it is found by its job, not among all work.
            task__closed_at__isnull=False,
            how=Closure.How.DONE,
            undone_at=None,
            waterings=None,
            done_on__gte=start,
            done_on__lte=today,
        )
        .order_by("id")
        .values_list("task__tree_id", "task__block_id", "done_on")
    )
    on_drip: dict[int, list[int]] = defaultdict(list)
    if any(tree_id is None for tree_id, _block_id, _on in rows):
        drip_lines = Tree.objects.in_orchard(orchard).filter(irrigated=True)
        for tree_id, block_id in drip_lines.values_list("pk", "spot__block_id"):
            on_drip[block_id].append(tree_id)
    ticked: dict[int, set[date]] = defaultdict(set)
    for tree_id, block_id, on in rows:
        watered = on_drip[block_id] if tree_id is None else [tree_id]
        for watered_id in watered:
            ticked[watered_id].add(on)
    return {tree_id: frozenset(days) for tree_id, days in ticked.items()}


def given_mm(roots: RootWater, tree_id: int, after: date) -> dict[date, float]:
    """Return what was poured on a tree after a day, mm over its crown circle."""
    poured = roots.poured.get(tree_id)
    crown = roots.crowns.get(tree_id) if poured else None
    if crown is None or poured is None:
        return {}
    circle = math.pi / 4 * crown.width_m**2
    return {on: litres / circle for on, litres in poured.items() if on > after}


def ground_water(roots: RootWater, tree: Tree | GrowingTree) -> GroundWater:
    """Reckon what is missing under a tree; once for all trees that share it."""
    if roots.soil is None:
        return GroundWater(why_not=_("No data: the soil isn't described."))
    depth = _root_depth(roots, roots.soil, tree)
    soaked_on = roots.soaked[depth]
    given = given_mm(roots, tree.pk, after=soaked_on)
    filled = frozenset(on for on in roots.filled(tree.pk) if on > soaked_on)
    key = (depth, tuple(given.items()), filled)
    if key not in roots.reckoned:
        roots.reckoned[key] = _reckon(roots, roots.soil, depth, given, filled)
    return roots.reckoned[key]


def _water_held(soil: Soil, depth: float | None) -> tuple[float, float]:
    """Return all the water in reach of roots, and what they draw with ease, mm."""
    if depth is None:
        return water.strip_water(soil.sort)
    return water.available_water(soil.sort, depth)


def _root_depth(roots: RootWater, soil: Soil, tree: Tree | GrowingTree) -> float | None:
    """Return how deep a tree roots; None where drippers wet a strip only."""
    if soil.is_strip:
        return None
    if tree.dates not in roots.depths:
        years = tree.dates.planted_years_on(roots.today)
        roots.depths[tree.dates] = _depth_after(soil, years)
    return roots.depths[tree.dates]


def _depth_after(soil: Soil, years: float | None) -> float:
    """Return how deep a tree roots in a soil, some years after it was planted."""
    return water.root_depth(
        years,
        new=soil.depth_new_m,
        young=soil.depth_young_m,
        mature=soil.depth_mature_m,
    )


def _reckon(
    roots: RootWater,
    soil: Soil,
    depth: float | None,
    given: Mapping[date, float],
    filled: frozenset[date],
) -> GroundWater:
    total, ready = _water_held(soil, depth)
    use = roots.mean_use("need_mm")
    now_ready = total * water.ready_share(use)
    found = GroundWater(total=total, ready=now_ready, depth=depth, use=use)

    def since(days: Sequence[ZoneDay]) -> Depletion | None:
        return water.depletion(days, given, filled, total=total, ready=ready)

    spent = since(roots.zone_days)
    if roots.today in filled:
        spent = Depletion(roots.today, 0.0, 0.0, 0.0)
    if spent is None:
        return replace(found, why_not=why_no_beginning(roots))
    share = spent.estimated_share
    if share > figures.figure("estimated_most_share").value:
        return replace(found, why_not=too_much_estimated(share, spent.full_on))
    today = given.get(roots.today, 0.0)
    missing = max(0.0, spent.missing - today)
    low = high = None
    if share > figures.figure("estimated_range_share").value:
        ends = [since(_zone_days(roots, name)) for name in ("et0_low", "et0_high")]
        levels = [max(0.0, end.missing - today) for end in ends if end is not None]
        low, high = min(*levels, missing), max(*levels, missing)
    return replace(
        found,
        since=spent,
        missing=missing,
        low=low,
        high=high,
        turn=water.watering_span(missing, now_ready, use),
    )


def _zone_days(roots: RootWater, name: str) -> list[ZoneDay]:
    """Return the days with the least or most that estimated ones may have taken."""
    return [
        row._replace(need=getattr(day, name) * day.kc) if day.is_estimated else row
        for row, day in zip(roots.zone_days, roots.whole, strict=True)
    ]


def why_no_beginning(roots: RootWater) -> str:
    """Say why a balance of the ground has no beginning."""
    before = roots.whole[0].on - A_DAY if roots.whole else roots.today - A_DAY
    broken = roots.days.get(before)
    if broken is not None and len(roots.whole) < figures.figure("use_days").value:
        return _("No data for: %(days)s.") % {"days": named([broken])}
    return _(
        "No start: in the last %(days)d days no rain or watering on record filled the "
        "soil. Water down to the roots and record it."
    ) % {"days": len(roots.whole)}


def too_much_estimated(share: float, since: date) -> str:
    """Say why a sum is not told of which much is estimated."""
    return _(
        "%(share)d %% of the water used since %(day)s would be estimated. With more "
        "than %(most)d %% no figure is shown."
    ) % {
        "share": round(share * 100),
        "day": date_format(since, "j M Y"),
        "most": round(figures.figure("estimated_most_share").value * 100),
    }


def root_zone_depletion(
    roots: RootWater, tree: Tree | GrowingTree
) -> tuple[date, float] | None:
    """Return since when, and what share of ready water, a tree has used up.

    None while the balance has no beginning, or too much of it would be estimated.
    """
    found = ground_water(roots, tree)
    if found.since is None or not found.is_known:
        return None
    return found.since.full_on, found.missing / found.ready
