"""The past seasons of a cultivar group: bloom, heat since, and when events came."""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from orchard.records.models import Orchard, StageNote, Tree
from orchard.science import figures, heat
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
    sums: tuple[tuple[date, float], ...]
    events: Mapping[str, date]


def unbroken_runs(days: Sequence[Day | Missing]) -> tuple[heat.Sums, ...]:
    """Return the sums of every unbroken run of days, for a gap is never bridged."""
    base = figures.figure("heat_base_c").value
    cap = figures.figure("heat_cap_c").value
    runs: list[list[tuple[date, float, float]]] = [[]]
    for day in days:
        if day.range is None:
            runs.append([])
        else:
            runs[-1].append(day.range)
    return tuple(heat.Sums(run, base, cap) for run in runs if run)


def trees_by_group(orchard: Orchard) -> dict[str, int]:
    """Count the growing trees of each cultivar group."""
    found: dict[str, int] = defaultdict(int)
    rows = Tree.objects.in_orchard(orchard).looked_after().values_list("kind__group")
    for (group,) in rows:
        if group:
            found[group] += 1
    return found


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


def run_with(runs: Iterable[heat.Sums], day: date) -> heat.Sums | None:
    """Return the unbroken run of days that holds a day, or None."""
    return next((run for run in runs if run.first <= day <= run.last), None)


def seasons_of(
    notes: Sequence[tuple[date, int, bool]],
    runs: Sequence[heat.Sums],
    latitude: float,
) -> list[HeatSeason]:
    """Return the years of a group in which full bloom was noted, oldest first."""
    blooms = _blooms(notes, latitude)
    found = []
    for year, bloom_on in sorted(blooms.items()):
        next_bloom = min((on for on in blooms.values() if on > bloom_on), default=None)
        run = run_with(runs, bloom_on)
        sums: tuple[tuple[date, float], ...] = ()
        if run is not None:
            end = min(run.last, bloom_on + figures.days("longest_season_days"))
            sums = tuple(run.since(bloom_on, end))
        events = _events(notes, bloom_on, next_bloom)
        found.append(HeatSeason(year, bloom_on, sums, events))
    return found
