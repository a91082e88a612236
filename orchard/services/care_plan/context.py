"""What the care plan knows: which trees get which job, and what was done before."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from django.db.models import Q

from orchard.records.models import (
    CarePlan,
    Closure,
    Crown,
    CrownSize,
    Finding,
    GrowingTree,
    Happening,
    Orchard,
    StageNote,
    Target,
    Task,
    Tree,
    job_keys,
)
from orchard.science import events, guide
from orchard.science.events import BEFORE_FROST, EventGroup, EventKind
from orchard.science.figures import days
from orchard.science.frost import Risk
from orchard.science.guide import CareJob, Value
from orchard.science.windows import (
    AfterEvent,
    AllOf,
    AnyOf,
    AtStage,
    Calendar,
    Done,
    History,
    Interval,
    Measured,
    Observed,
    Trigger,
    counted_back,
    counts_from_last,
    read_spans,
    season_year,
)
from orchard.science.words import HoldKind, JobRole, JobScope
from orchard.services import fruit, weather
from orchard.services.facts import (
    CareFacts,
    bared_lately,
    care_facts_of,
    large_crowns,
)
from orchard.services.fruit import MaturityReading
from orchard.services.holds import TreeHold, holds_of

# Follows the name of a turn that fell away once and is opened again: "2026~2".
AGAIN = "~"
IN_FLY_AREA = frozenset({"fruit_fly_area"})
# Events with their days, by name, and growth stages with theirs.
Noted = tuple[Mapping[str, tuple[tuple[str, date], ...]], tuple[tuple[int, date], ...]]


class Subject(NamedTuple):
    """What one task of a job is about: a tree, a block or the whole orchard."""

    target: Target
    tree: GrowingTree | None
    block_id: int | None
    known_since: date


@dataclass(frozen=True, slots=True)
class TriggerNeeds:
    """What the trigger of a job reads of a history."""

    # Of the turns done, only those of the last day.
    last_turns: bool
    # Names of events, and of other jobs that it follows.
    events: tuple[str, ...]
    stages: bool
    # The planting as an event, or as a first turn where none is done.
    planting: bool
    first_turn: bool
    # The kinds of measurements that it waits for.
    measured: frozenset[str]


@dataclass(frozen=True, slots=True)
class Context:
    """All that the windows of an orchard's jobs depend on, read once."""

    orchard: Orchard
    today: date
    latitude: float
    trees: tuple[GrowingTree, ...]
    # By target and job.
    done: Mapping[tuple[Target, str], tuple[Done, ...]]
    happened: Mapping[int | None, tuple[tuple[str, date], ...]]
    stages: Mapping[int | str, tuple[tuple[int, date], ...]]
    alike: CareFacts
    crowns: Mapping[int, CrownSize]
    founded_on: date
    # The tests of fruit that still say something, by block and kind, newest first.
    ripe_tests: Mapping[fruit.Place, tuple[MaturityReading, ...]]
    holds: Mapping[int, tuple[TreeHold, ...]]
    # By tree, the last day on which its fruit was picked.
    picked: Mapping[int, date]
    # Many jobs are for the same trees, and many windows rest on the same history.
    _chosen: dict[frozenset[int], tuple[GrowingTree, ...]] = field(
        default_factory=dict, compare=False
    )
    _in_block: dict[int | None, tuple[GrowingTree, ...]] = field(
        default_factory=dict, compare=False
    )
    _by_number: dict[int | None, GrowingTree] = field(
        default_factory=dict, compare=False
    )
    _noted_of: dict[Target, Noted] = field(default_factory=dict, compare=False)
    _worked_on: dict[str, set[Target]] = field(default_factory=dict, compare=False)
    _sort_of: dict[int, int] = field(default_factory=dict, compare=False)
    _sorts: dict[object, int] = field(default_factory=dict, compare=False)
    _read_by: dict[str, TriggerNeeds] = field(default_factory=dict, compare=False)
    subject_of: dict[int, Subject] = field(default_factory=dict, compare=False)
    # Trees alike that grow alike have the same to lose in the same cold.
    risks: dict[object, Risk] = field(default_factory=dict, compare=False)
    in_soft_growth: dict[object, bool] = field(default_factory=dict, compare=False)
    # So do trees alike whose fruit was tested and picked alike ripen alike.
    ready_on: dict[object, tuple[date, date] | None] = field(
        default_factory=dict, compare=False
    )

    def facts_of(self, tree: GrowingTree) -> Mapping[str, Value | None]:
        """Return what is known of a tree that decides which jobs apply to it."""
        return self.alike.facts(tree)

    def trees_where(
        self, holds: Callable[[Mapping[str, Value | None]], bool]
    ) -> tuple[GrowingTree, ...]:
        """List the growing trees whose facts pass a test, in walking order.

        The test is asked once for all trees of the same facts.
        """
        alike = self.alike
        passed = frozenset(
            place for place, facts in enumerate(alike.sorts) if holds(facts)
        )
        if passed not in self._chosen:
            self._chosen[passed] = tuple(
                tree for tree in self.trees if alike.sort_of[tree.pk] in passed
            )
        return self._chosen[passed]

    def free_of(
        self, trees: tuple[GrowingTree, ...], job: CareJob
    ) -> tuple[GrowingTree, ...]:
        """Return those of some trees on which no hold forbids the work of a job.

        What waits for some hours of no entry is asked for all the same, and waits.
        """
        if not self.holds:
            return trees
        return tuple(
            tree
            for tree in trees
            if not any(
                hold.forbids(job.work)
                for hold in self.holds.get(tree.pk, ())
                if hold.kind is not HoldKind.ENTRY
            )
        )

    def growing(self, tree_id: int | None) -> GrowingTree | None:
        """Return a growing tree by its number; None for any other."""
        if not self._by_number:
            self._by_number.update((tree.pk, tree) for tree in self.trees)
        return self._by_number.get(tree_id)

    def history(self, job: CareJob, subject: Subject) -> History:
        """Gather what is on record about one job on one subject.

        No more than its trigger reads, so that many trees have the same history.
        """
        done = self.done.get((subject.target, job.key), ())
        needs = self.needs_of(job)
        if needs.last_turns and len(done) > 1:
            last = max(turn.on for turn in done)
            done = tuple(turn for turn in done if turn.on == last)
        if isinstance(job.trigger, AnyOf):
            # Whatever part asked for it: done is done, for every part.
            done = tuple(Done(turn.on) for turn in done)
        events: tuple[tuple[str, date], ...] = ()
        stages: tuple[tuple[int, date], ...] = ()
        if needs.events or needs.stages:
            noted, grown = self._noted(subject)
            stages = grown if needs.stages else ()
            if needs.events:
                events = (
                    *(row for name in needs.events for row in noted.get(name, ())),
                    *self._worked(needs.events, subject),
                )
        planted_on = None
        if subject.tree and (needs.planting or (needs.first_turn and not done)):
            planted_on = subject.tree.dates.last_planted_on
        return History(
            done=done,
            events=events,
            stages=stages,
            planted_on=planted_on,
            flags=IN_FLY_AREA if self.orchard.fruit_fly_area else frozenset(),
        )

    def sort_of(self, tree: GrowingTree) -> int:
        """Return the same number for trees of one kind and block, known to be alike.

        Alike are their facts, what was noted of them, their holds and last harvest;
        work done at them, water and an offset of their own may still tell them apart.
        """
        pk = tree.pk
        if pk not in self._sort_of:
            made_of = (
                self.alike.sort_of[pk],
                tree.block_id,
                tree.entered_on,
                self.happened.get(pk),
                self.stages.get(pk),
                self.holds.get(pk),
                self.picked.get(pk),
            )
            self._sort_of[pk] = self._sorts.setdefault(made_of, len(self._sorts))
        return self._sort_of[pk]

    def worked_on(self, jobs: Iterable[str]) -> set[Target]:
        """Return where work of some jobs was done."""
        if not self._worked_on:
            for target, job in self.done:
                self._worked_on.setdefault(job, set()).add(target)
        places = (self._worked_on.get(job, ()) for job in jobs)
        return set[Target]().union(*places)

    def needs_of(self, job: CareJob) -> TriggerNeeds:
        """Return what the windows of a job rest on."""
        if job.key not in self._read_by:
            self._read_by[job.key] = _needs(job.trigger)
        return self._read_by[job.key]

    def _noted(self, subject: Subject) -> Noted:
        """Gather the events and growth stages noted of a subject, each once."""
        target = subject.target
        if target not in self._noted_of:
            trees = [subject.tree] if subject.tree else self.trees_of(subject)
            self._noted_of[target] = self._noted_on(trees)
        return self._noted_of[target]

    def _noted_on(self, trees: Sequence[GrowingTree]) -> Noted:
        events = dict.fromkeys(self.happened.get(None, ()))
        stages: dict[tuple[int, date], None] = {}
        for tree in trees:
            events.update(dict.fromkeys(self.happened.get(tree.pk, ())))
            stages.update(dict.fromkeys(self.stages.get(tree.pk, ())))
        for group in {tree.kind.group for tree in trees if tree.kind.group}:
            stages.update(dict.fromkeys(self.stages.get(group, ())))
        by_name: dict[str, tuple[tuple[str, date], ...]] = {}
        for event in events:
            by_name[event[0]] = (*by_name.get(event[0], ()), event)
        return by_name, tuple(stages)

    def _worked(
        self, jobs: Iterable[str], subject: Subject
    ) -> Iterator[tuple[str, date]]:
        """Yield the days on which some jobs were done here."""
        for job in jobs:
            for turn in self.done.get((subject.target, job), ()):
                yield job, turn.on

    def trees_of(self, subject: Subject) -> tuple[GrowingTree, ...]:
        """List the trees of a block, or of the whole orchard."""
        block = subject.block_id
        if block is None:
            return self.trees
        if block not in self._in_block:
            self._in_block[block] = tuple(
                tree for tree in self.trees if tree.block_id == block
            )
        return self._in_block[block]


def gather_context(
    orchard: Orchard,
    *,
    today: date,
    holds: Mapping[int, tuple[TreeHold, ...]] | None = None,
    block: int | None = None,
    tree: int | None = None,
    jobs: Iterable[CareJob] | None = None,
) -> Context:
    """Read an orchard's trees and history in a fixed number of queries.

    `holds` are those of all its trees, where they are read already; with a `block` its
    trees alone are read, or one `tree`, and what was done at them. With `jobs` what was
    done is read of them alone, and of what says something of trees to other jobs.
    """
    growing = Tree.objects.in_orchard(orchard)
    done_here = Q(task__orchard=orchard)
    if block is not None:
        growing = growing.filter(spot__block=block)
        done_here &= Q(task__tree=None) | Q(task__tree__spot__block=block)
    measured = Crown.objects.in_orchard(orchard)
    if tree is not None:
        growing = growing.filter(pk=tree)
        done_here &= Q(task__tree=None) | Q(task__tree=tree)
        measured = measured.filter(tree=tree)
    trees = growing.as_growing(orchard.time_zone)
    every = guide.load().jobs.values()
    for_good = _asked_by_others()
    keys = {job.key for job in (every if jobs is None else jobs)} | for_good
    by_sign = {sign: job.key for job in every if job.key in keys for sign in job.signs}
    counts_since = _counts_since(today, keys - for_good)
    closures = (
        Closure.objects.filter(
            Q(task__kind__in=Task.OF_A_JOB, task__key__in=keys)
            | Q(task__kind=Task.Kind.ACT, task__key__in=by_sign),
            ~Q(task__key__in=counts_since)
            | Q(done_on__gte=min(counts_since.values(), default=today)),
            done_here,
            undone_at=None,
            done_on__gte=today - days("care_back_days"),
        )
        .exclude(how=Closure.How.CANCELLED)
        .values_list(
            "task__tree_id",
            "task__block_id",
            "task__kind",
            "task__key",
            "done_on",
            "task__occurrence",
            "how",
        )
    )
    # By the columns first: there are many more closures than targets.
    turns: dict[tuple[int | None, int | None, str], list[Done]] = defaultdict(list)
    worked: dict[tuple[Target, str], list[date]] = defaultdict(list)
    act, was_done = Task.Kind.ACT, Closure.How.DONE
    told_by_days = job_keys(JobRole.PRUNING, JobRole.HARVEST)
    for tree_id, block_id, kind, job, on, occurrence, how in closures:
        if kind == act:
            # What a sign asked for is the job's own work: it counts for the job.
            job, occurrence = by_sign[job], ""
        elif kind == Task.Kind.ONCE:
            # So does what somebody asked for.
            occurrence = ""
        elif AGAIN in occurrence:
            occurrence = occurrence.partition(AGAIN)[0]
        if job in counts_since and on < counts_since[job]:
            continue
        # A tree's block is only where it stands.
        turns[tree_id, None if tree_id else block_id, job].append(Done(on, occurrence))
        if job in told_by_days and how == was_done:
            worked[Target.from_columns(tree_id, block_id), job].append(on)
    done = {
        (Target(tree_id, block_id), job): tuple(rows)
        for (tree_id, block_id, job), rows in turns.items()
    }
    happened = _happened(orchard, trees, today)
    crowns = measured.newest_sizes(today)
    return Context(
        orchard=orchard,
        today=today,
        latitude=float(orchard.latitude),
        trees=trees,
        done=done,
        happened=happened,
        stages=_stages(orchard, today),
        alike=care_facts_of(
            trees,
            orchard,
            today,
            bared=bared_lately(worked, happened, today),
            large=large_crowns(crowns),
        ),
        crowns=crowns,
        founded_on=orchard.founded_on,
        holds=holds_of(orchard, today=today) if holds is None else holds,
        ripe_tests=fruit.tests_by_place(
            fruit.tests_since(orchard, today - days("ripe_test_days"))
        ),
        picked=_picked(worked, happened),
    )


def _asked_by_others() -> set[str]:
    """Name the jobs that other work follows, or that say something of the tree."""
    names = {*job_keys(JobRole.PRUNING, JobRole.HARVEST)}
    for job in guide.load().jobs.values():
        names.update(_needs(job.trigger).events)
    return names


def _counts_since(today: date, keys: Iterable[str]) -> dict[str, date]:
    """Return since when what was done of some jobs counts, where it does not for good.

    Of work that others ask about all counts: it is not among them.
    """
    jobs = guide.load().jobs
    asked = today - days("catch_up_days")
    back = {key: counted_back(jobs[key].trigger) for key in keys}
    return {key: asked - span for key, span in back.items() if span is not None}


def _picked(
    worked: Mapping[tuple[Target, str], Iterable[date]],
    happened: Mapping[int | None, Iterable[tuple[str, date]]],
) -> dict[int, date]:
    """Return the last day on which each tree was picked, by work and by events."""
    harvest = guide.load().job(JobRole.HARVEST).key
    picked = [
        (target.tree_id, day)
        for (target, job), dates in worked.items()
        if job == harvest
        for day in dates
    ] + [
        (tree_id, day)
        for tree_id, events in happened.items()
        for what, day in events
        if what == EventKind.HARVESTED.guide_name
    ]
    last: dict[int, date] = {}
    for tree_id, day in picked:
        if tree_id is not None:
            last[tree_id] = max(day, last.get(tree_id, day))
    return last


def _happened(
    orchard: Orchard, trees: Iterable[GrowingTree], today: date
) -> dict[int | None, tuple[tuple[str, date], ...]]:
    found: dict[int | None, list[tuple[str, date]]] = defaultdict(list)
    happenings = (
        Happening.objects.current()
        .filter(orchard=orchard, happened_on__gte=today - days("care_back_days"))
        .values_list("tree_id", "what", "happened_on")
    )
    frosts: list[weather.NotedFrost] = []
    for tree_id, what, on in happenings:
        kind = EventKind(what)
        names = list(kind.guide_names)
        if kind.group is EventGroup.FROST:
            # Whether it calls for a look is weighed with the measured nights.
            names.remove(EventKind.FROST_NIGHT.guide_name)
            frosts.append(weather.NotedFrost(tree_id, kind, on))
        found[tree_id] += [(name, on) for name in names]
    findings = (
        Finding.objects.current()
        .filter(tree__orchard=orchard, sign__in=_watched_signs())
        .filter(inspection__seen_on__gte=today - days("care_back_days"))
        .values_list("tree_id", "sign", "inspection__seen_on")
    )
    for tree_id, sign, on in findings:
        found[tree_id].append((events.sign_event(sign), on))
    weather.add_weather_events(found, frosts, orchard, trees, today)
    found[None] += [(BEFORE_FROST, day) for day in _before_frost(orchard, today)]
    return {key: tuple(rows) for key, rows in found.items()}


def _before_frost(orchard: Orchard, today: date) -> Iterator[date]:
    """Yield the days on which the frost season around today is as near as it counts."""
    if not orchard.frost_from:
        return
    latitude = float(orchard.latitude)
    [season] = read_spans(f"{orchard.frost_from}..{orchard.frost_to}")
    year = season_year(today, latitude)
    for began in (year - 1, year, year + 1):
        yield season.dates(began, latitude)[0] - days("before_frost_days")


def _watched_signs() -> set[str]:
    """Name the signs that some job follows."""
    names = set()
    for job in guide.load().jobs.values():
        for part in parts_of(job.trigger):
            if isinstance(part, AfterEvent):
                names.add(part.event)
            elif isinstance(part, Observed):
                names.add(part.name)
    return {sign for sign in map(events.sign_in, names) if sign}


def _stages(
    orchard: Orchard, today: date
) -> dict[int | str, tuple[tuple[int, date], ...]]:
    found: dict[int | str, list[tuple[int, date]]] = defaultdict(list)
    notes = (
        StageNote.objects.current()
        .filter(orchard=orchard, seen_on__gte=today - days("care_back_days"))
        .values_list("tree_id", "group", "bbch", "seen_on")
    )
    for tree_id, group, bbch, on in notes:
        found[tree_id or group].append((bbch, on))
    return {key: tuple(rows) for key, rows in found.items()}


def _needs(trigger: Trigger) -> TriggerNeeds:
    parts = list(parts_of(trigger))
    alone = [part for part in parts if not isinstance(part, AnyOf | AllOf)]
    events = dict.fromkeys(
        part.event if isinstance(part, AfterEvent) else part.name
        for part in parts
        if isinstance(part, AfterEvent | Observed)
    )
    return TriggerNeeds(
        last_turns=all(counts_from_last(part) for part in alone),
        events=tuple(events),
        stages=any(isinstance(part, AtStage | Measured) for part in parts),
        planting="planted" in events or isinstance(trigger, AllOf),
        first_turn=any(isinstance(part, Interval | Calendar) for part in parts),
        measured=frozenset(part.kind for part in parts if isinstance(part, Measured)),
    )


def parts_of(trigger: Trigger) -> Iterator[Trigger]:
    """Yield a trigger and, where it joins others, each of them."""
    yield trigger
    if isinstance(trigger, AnyOf | AllOf):
        for part in trigger.triggers:
            yield from parts_of(part)


def applies(job: CareJob, plan: CarePlan, facts: Mapping[str, Value | None]) -> bool:
    """Tell whether a tree gets a job; facts missing, whoever set it on has decided."""
    answer = job.applies_to(facts)
    return plan.set_by_id is not None if answer is None else answer


def trees_with(
    job: CareJob, plan: CarePlan, context: Context
) -> tuple[GrowingTree, ...]:
    """List the growing trees that a job applies to, in walking order."""
    return context.trees_where(lambda facts: applies(job, plan, facts))


def subjects(
    job: CareJob, trees: Iterable[GrowingTree], context: Context
) -> list[Subject]:
    """List what a job's tasks are about: its trees, their blocks or the orchard."""
    if job.scope is JobScope.TREE:
        return _subjects_of(trees, context)
    if job.scope is JobScope.BLOCK:
        blocks = dict.fromkeys(tree.block_id for tree in trees)
        return [
            Subject(Target(block_id=pk), None, pk, context.founded_on) for pk in blocks
        ]
    return [Subject(Target(), None, None, context.founded_on)]


def _subjects_of(trees: Iterable[GrowingTree], context: Context) -> list[Subject]:
    found = context.subject_of
    if not found:
        for tree in context.trees:
            known_since = max(context.founded_on, tree.entered_on)
            target = Target(tree_id=tree.pk)
            found[tree.pk] = Subject(target, tree, tree.block_id, known_since)
    return [found[tree.pk] for tree in trees]


def count_subjects(job: CareJob, trees: Sequence[GrowingTree]) -> int:
    """Count what a job's tasks are about, for some trees."""
    if job.scope is JobScope.TREE:
        return len(trees)
    if job.scope is JobScope.BLOCK:
        return len({tree.block_id for tree in trees})
    return 1
