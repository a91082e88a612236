"""The past seasons of a cultivar group: bloom, heat since, and when events came."""

from __future__ import annotations

import statistics
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from orchard.records.models import Orchard, StageNote, Tree
from orchard.science import figures, guide, heat
from orchard.science.guide import Cultivar
from orchard.science.windows import season_year
from orchard.science.words import JobRole
from orchard.services import fruit
from orchard.services.weather import Day, Missing


@dataclass(frozen=True, slots=True)
class HeatEvent:
    """Something that heat leads to: its growth stages, the jobs that go with it."""

    key: str
    role: JobRole

    @property
    def stages(self) -> range:
        """Give the growth stages (BBCH) that show it."""
        return figures.stages(self.key)

    @property
    def soonest(self) -> timedelta:
        """Give the days from bloom; what is noted sooner is of the year before."""
        if self.role == JobRole.RIPENING:
            return figures.days("ripe_from_bloom_days")
        return timedelta(days=1)


EVENTS = (
    HeatEvent("flush", JobRole.FLUSH),
    HeatEvent("petal_fall", JobRole.PETAL_FALL),
    HeatEvent("ripening", JobRole.RIPENING),
)


@dataclass(frozen=True, slots=True)
class HeatSeason:
    """One year of a group: bloom, the running sums since, and when events came."""

    year: int
    bloom_on: date
    sums: Sequence[tuple[date, float]]
    events: Mapping[str, date]
    # Days whose temperatures stand in for missing ones.
    estimated: tuple[date, ...]

    @property
    def rests_on_measurements(self) -> bool:
        """Say whether few enough of its days are estimated to tell a day by them."""
        most = figures.figure("heat_most_estimated").value
        return len(self.estimated) <= most * len(self.sums)


@dataclass(frozen=True, slots=True)
class Warmth:
    """The orchard's days of temperatures: runs without a gap, and what is estimated."""

    runs: tuple[heat.Sums, ...]
    estimated: frozenset[date]
    # The orchard's usual warmth of the coming days; None where no past tells it.
    usual: Sequence[tuple[date, float]] | None

    def run_with(self, day: date) -> heat.Sums | None:
        """Return the run that holds a day, or None."""
        return next((run for run in self.runs if run.first <= day <= run.last), None)


@dataclass(frozen=True, slots=True)
class CultivarGroup:
    """The growing trees of a cultivar group: how many, and of which cultivars."""

    trees: int
    cultivars: tuple[Cultivar, ...]

    def window_after(self, bloom_on: date, latitude: float) -> tuple[date, date] | None:
        """Return when fruit of a bloom usually comes ripe, by the guide's calendar."""
        year = season_year(bloom_on, latitude)
        ripe_from = bloom_on + figures.days("ripe_from_bloom_days")
        found = []
        for cultivar in self.cultivars:
            seasons = fruit.usual_seasons(cultivar, range(year - 1, year + 3), latitude)
            coming = [season for season in seasons if season[1] >= ripe_from]
            found += coming[:1]
        if not found:
            return None
        return min(first for first, _last in found), max(last for _first, last in found)


def warmth_of(days: Sequence[Day | Missing], today: date) -> Warmth:
    """Return the warmth of days in order; short gaps are bridged, long ones never."""
    base = figures.figure("heat_base_c").value
    cap = figures.figure("heat_cap_c").value
    runs: list[list[tuple[date, float, float]]] = [[]]
    estimated: set[date] = set()
    missing: list[date] = []
    for day in days:
        if day.range is None:
            missing.append(day.on)
            continue
        before = runs[-1][-1] if runs[-1] else None
        if missing and before is not None:
            if len(missing) <= figures.figure("heat_bridged_days").value:
                runs[-1] += _between(before, day.range, missing)
                estimated.update(missing)
            else:
                runs.append([])
        missing = []
        runs[-1].append(day.range)
    sums = tuple(heat.Sums(run, base, cap) for run in runs if run)
    return Warmth(sums, frozenset(estimated), _usual(sums, today))


def _between(
    before: tuple[date, float, float],
    after: tuple[date, float, float],
    missing: Sequence[date],
) -> Iterator[tuple[date, float, float]]:
    """Yield missing days with temperatures on a straight line between neighbours."""
    for place, on in enumerate(missing, start=1):
        share = place / (len(missing) + 1)
        yield (
            on,
            before[1] + (after[1] - before[1]) * share,
            before[2] + (after[2] - before[2]) * share,
        )


def _usual(
    runs: Sequence[heat.Sums], today: date
) -> Sequence[tuple[date, float]] | None:
    history = [row for run in runs for row in run.units]
    try:
        season = figures.days("longest_season_days")
        return heat.usual_days(history, today, season.days)
    except ValueError:
        return None


def trees_by_group(orchard: Orchard) -> dict[str, CultivarGroup]:
    """Gather the growing trees of each cultivar group."""
    counted: Counter[str] = Counter()
    keys: dict[str, dict[str, None]] = defaultdict(dict)
    rows = Tree.objects.in_orchard(orchard).looked_after()
    for group, key in rows.values_list("kind__group", "kind__guide_key").order_by("id"):
        if group:
            counted[group] += 1
            keys[group][key] = None
    book = guide.load().cultivars
    return {
        group: CultivarGroup(
            count, tuple(book[key] for key in keys[group] if key in book)
        )
        for group, count in counted.items()
    }


def notes_by_group(
    orchard: Orchard, today: date
) -> dict[str, tuple[tuple[date, int, bool], ...]]:
    """List the stages noted of each group: the day, the stage, of all its trees.

    Fruit that a test found ready counts as ripe.
    """
    found: dict[str, list[tuple[date, int, bool]]] = defaultdict(list)
    notes = (
        StageNote.objects.current()
        .filter(orchard=orchard, seen_on__lte=today)
        .order_by("seen_on", "id")
        .values_list("group", "tree__kind__group", "seen_on", "bbch")
    )
    for group, tree_group, on, bbch in notes:
        name = group or tree_group
        if name:
            found[name].append((on, bbch, bool(group)))
    ripe = round(figures.figure("ripe_bbch").value)
    start = today - figures.days("ripe_tests_back_days")
    for tested in fruit.tests_since(orchard, start):
        name = tested.test.tree.kind.group
        if name and tested.is_ready:
            found[name].append((tested.test.tested_on, ripe, False))
    return {
        group: tuple(sorted(rows, key=lambda row: row[0]))
        for group, rows in found.items()
    }


def _blooms(
    notes: Iterable[tuple[date, int, bool]], latitude: float
) -> dict[int, date]:
    """Return the full bloom of each season year: as noted of the group, else the
    middle of its trees."""
    by_year: dict[int, dict[bool, list[date]]] = defaultdict(lambda: defaultdict(list))
    full_bloom = figures.figure("full_bloom_bbch").value
    for on, bbch, of_group in notes:
        if bbch == full_bloom:
            by_year[season_year(on, latitude)][of_group].append(on)
    found = {}
    for year, rows in by_year.items():
        days = rows[True] or rows[False]
        middle = statistics.median_low(day.toordinal() for day in days)
        found[year] = rows[True][0] if rows[True] else date.fromordinal(middle)
    return found


def _events(
    notes: Iterable[tuple[date, int, bool]], bloom_on: date, next_bloom: date | None
) -> dict[str, date]:
    found: dict[str, date] = {}
    for event in EVENTS:
        stages, start = event.stages, bloom_on + event.soonest
        until = bloom_on + figures.days("longest_season_days")
        if next_bloom is not None:
            until = min(until, next_bloom + event.soonest)
        for on, bbch, _of_group in notes:
            if start <= on < until and bbch in stages:
                found.setdefault(event.key, on)
    return found


def seasons_of(
    notes: Sequence[tuple[date, int, bool]],
    warmth: Warmth,
    latitude: float,
) -> list[HeatSeason]:
    """Return the years of a group in which full bloom was noted, oldest first."""
    blooms = _blooms(notes, latitude)
    found = []
    for year, bloom_on in sorted(blooms.items()):
        next_bloom = min((on for on in blooms.values() if on > bloom_on), default=None)
        run = warmth.run_with(bloom_on)
        sums: Sequence[tuple[date, float]] = ()
        if run is not None:
            end = min(run.last, bloom_on + figures.days("longest_season_days"))
            sums = run.since(bloom_on, end)
        events = _events(notes, bloom_on, next_bloom)
        estimated = tuple(on for on, _sum in sums if on in warmth.estimated)
        found.append(HeatSeason(year, bloom_on, sums, events, estimated))
    return found
