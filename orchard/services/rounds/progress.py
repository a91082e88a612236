"""Walking: how rounds go. What waits at each stop, what has come in, what is out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Count, Max, Q

from orchard.records.models import (
    Inspection,
    Membership,
    Orchard,
    Photo,
    Receipt,
    Round,
    RoundStop,
    Task,
    Tree,
    User,
)
from orchard.science.words import HoldKind, WorkKind
from orchard.services import tasks as work
from orchard.services.holds import (
    ClosedTrees,
    SketchBlock,
    TreeHold,
    closed_alike,
    sketch_of,
)
from orchard.services.paging import Page, page_by_key
from orchard.services.permissions import Deed, may

# Closed rounds stay on the page for a while, so that their day can be looked up.
REMEMBERED = timedelta(days=14)
MOST_CLOSED = 20


@dataclass(frozen=True, slots=True)
class StopLook:
    """A look at a tree of a round, by whoever took it."""

    inspection: int
    tree: int
    round: int | None
    seen_at: datetime
    received_at: datetime
    by_id: int
    by: str
    all_well: bool
    photo_only: bool
    signs: int


@dataclass(frozen=True, slots=True)
class Stop:
    """One tree of a round with what waits there, and the last look at it."""

    number: int
    place: int
    tree: Tree
    tasks: tuple[Task, ...]
    # What is open but has to wait today, each with the reasons.
    waiting: tuple[tuple[Task, tuple[str, ...]], ...]
    look: StopLook | None
    holds: tuple[TreeHold, ...]

    @property
    def grows(self) -> bool:
        return bool(self.tree.state == Tree.State.GROWING)

    @property
    def is_seen(self) -> bool:
        """Tell whether somebody has noted how the tree is."""
        return _is_check(self.look)

    @property
    def is_out(self) -> bool:
        """Tell whether somebody still has to come by."""
        return self.grows and not self.is_seen


@dataclass(frozen=True, slots=True)
class Heard:
    """When something last came in from a person."""

    person: User
    at: datetime


@dataclass(frozen=True, slots=True)
class RoundSheet:
    """A round as its walker and its lead see it."""

    round: Round
    stops: tuple[Stop, ...]
    came_in: tuple[tuple[Stop, StopLook], ...]
    heard: tuple[Heard, ...]
    stray_photos: int

    @property
    def out(self) -> tuple[Stop, ...]:
        return tuple(stop for stop in self.stops if stop.is_out)

    @property
    def seen(self) -> int:
        return sum(stop.is_seen for stop in self.stops)

    @property
    def next(self) -> Stop | None:
        return next(iter(self.out), None)

    @property
    def closed_trees(self) -> tuple[ClosedTrees, ...]:
        """Return the trees under holds, those under the same ones together."""
        return closed_alike((stop.tree.code, stop.holds) for stop in self.stops)

    @property
    def sketch(self) -> tuple[SketchBlock, ...]:
        """Return the trees block by block, with those that are closed or not picked."""
        return sketch_of(
            (stop.tree for stop in self.stops),
            closed={
                stop.tree.pk
                for stop in self.stops
                if any(hold.kind is HoldKind.ENTRY for hold in stop.holds)
            },
            unpicked={
                stop.tree.pk
                for stop in self.stops
                if any(hold.forbids([WorkKind.PICKING]) for hold in stop.holds)
            },
        )

    @property
    def cautions(self) -> tuple[str, ...]:
        """Return what to take care of at the work of this round, each once."""
        cautions = (task.caution for stop in self.stops for task in stop.tasks)
        return tuple(dict.fromkeys(text for text in cautions if text))


@dataclass(frozen=True, slots=True)
class Walk:
    """A round as one line of a list."""

    round: Round
    seen: int
    trees: int
    codes: tuple[str, ...]
    last_in: datetime | None
    heard_at: datetime | None

    @property
    def out(self) -> int:
        return self.trees - self.seen


def round_sheet(
    row: Round, member: Membership, *, today: date, now: datetime
) -> RoundSheet:
    """Gather a round with everything that waits on it, in a fixed number of queries."""
    stops = list(
        RoundStop.objects.filter(round=row)
        .select_related("tree__kind", "tree__spot__block")
        .order_by("position")
    )
    trees = [stop.tree_id for stop in stops]
    around = work.circumstances(row.orchard, today=today, now=now)
    tasks: dict[int, list[tuple[Task, tuple[str, ...]]]] = defaultdict(list)
    begun = Task.objects.open().begun(today).filter(tree_id__in=trees)
    if not may(member, Deed.SEE_PRIVATE):
        begun = begun.not_private()
    begun = begun.select_related("tree__kind", "tree__orchard", "finding", "request")
    for task in begun.order_by("rank", "due_on", "id"):
        if task.tree_id is not None:
            tasks[task.tree_id].append((task, work.why_it_waits(task, around)))
    looks = _looks([row], {row.pk: trees})
    shown = tuple(
        Stop(
            number=stop.pk,
            place=stop.position,
            tree=stop.tree,
            tasks=tuple(task for task, waits in tasks[stop.tree_id] if not waits),
            waiting=tuple(entry for entry in tasks[stop.tree_id] if entry[1]),
            look=looks.get((row.pk, stop.tree_id)),
            holds=around.holds.get(stop.tree_id, ()),
        )
        for stop in stops
    )
    came = [(stop, stop.look) for stop in shown if stop.look is not None]
    people = {look.by_id for _stop, look in came} | {row.taken_by_id}
    return RoundSheet(
        round=row,
        stops=shown,
        came_in=tuple(
            sorted(
                came,
                key=lambda entry: (entry[1].received_at, entry[0].place),
                reverse=True,
            )
        ),
        heard=_heard(row.orchard, people, since=_began(row)),
        stray_photos=Photo.objects.current().unassigned().filter(rounds=row).count(),
    )


def next_tree(row: Round) -> Tree | None:
    """Return the first tree of a round that nobody has seen since its day."""
    stops = list(
        RoundStop.objects.filter(round=row).select_related("tree").order_by("position")
    )
    looks = _looks([row], {row.pk: [stop.tree_id for stop in stops]})
    return next(
        (
            stop.tree
            for stop in stops
            if not _is_check(looks.get((row.pk, stop.tree_id)))
            and stop.tree.state == Tree.State.GROWING
        ),
        None,
    )


def rounds_for(member: Membership, *, now: datetime) -> tuple[tuple[Walk, ...], ...]:
    """Return the open rounds and those closed of late, the next to walk first."""
    rows = Round.objects.in_orchard(member.orchard).select_related(
        "orchard", "taken_by"
    )
    open_ones = _walks(list(rows.open().order_by("walk_on", "id")))
    lately = rows.filter(closed_at__gte=now - REMEMBERED)
    closed = _walks(list(lately.order_by("-closed_at", "-id")[:MOST_CLOSED]))
    return open_ones, closed


def closed_rounds(member: Membership, *, after: str = "") -> Page[Walk]:
    """Return a page of all rounds that were closed, the newest first."""
    rows = Round.objects.in_orchard(member.orchard).filter(closed_at__isnull=False)
    rows = rows.select_related("orchard", "taken_by")
    page = page_by_key(rows, "-closed_at", "-id", after=after, size=MOST_CLOSED)
    return Page(_walks(page.rows), page.next_key)


def on_the_way(member: Membership, *, today: date) -> tuple[Walk, ...]:
    """Return what a member's first page tells of rounds of today and before.

    Those who lead see all that are open; others their own and what is free to take.
    """
    rows = Round.objects.in_orchard(member.orchard).open().filter(walk_on__lte=today)
    if not may(member, Deed.HAND_OUT):
        rows = rows.filter(Q(taken_by=member.user) | Q(taken_by=None))
    rows = rows.select_related("orchard", "taken_by").order_by("-walk_on", "id")
    return _walks(list(rows[:MOST_CLOSED]))


def _walks(rows: Sequence[Round]) -> tuple[Walk, ...]:
    if not rows:
        return ()
    stops: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for number, tree, code in (
        RoundStop.objects.filter(round__in=rows)
        .order_by("position")
        .values_list("round_id", "tree_id", "tree__code")
    ):
        stops[number].append((tree, code))
    trees = {row.pk: [tree for tree, _code in stops[row.pk]] for row in rows}
    looks = _looks(rows, trees)
    people = {row.taken_by_id for row in rows}
    since = min(_began(row) for row in rows)
    heard = {
        entry.person.pk: entry.at
        for entry in _heard(rows[0].orchard, people, since=since)
    }
    walks = []
    for row in rows:
        mine = [looks.get((row.pk, tree)) for tree in trees[row.pk]]
        came = [look for look in mine if look is not None]
        walks.append(
            Walk(
                round=row,
                seen=sum(map(_is_check, came)),
                trees=len(mine),
                codes=tuple(code for _tree, code in stops[row.pk]),
                last_in=max((look.received_at for look in came), default=None),
                heard_at=heard.get(row.taken_by_id or 0),
            )
        )
    return tuple(walks)


def _began(row: Round) -> datetime:
    """Return the first moment of the day on which a round is walked."""
    return datetime.combine(row.walk_on, time(), ZoneInfo(row.orchard.time_zone))


def _looks(
    rows: Iterable[Round], trees: dict[int, list[int]]
) -> dict[tuple[int, int], StopLook]:
    """Find the newest look at each tree of each round since its day, by anybody.

    A photo without a word stands only where nobody said how the tree is.
    A look that says it belongs to the round counts even if it came after the closing.
    """
    rows = list(rows)
    wanted = Q(round__in=rows) | Q(seen_at__gte=min(_began(row) for row in rows))
    everywhere = {tree for ones in trees.values() for tree in ones}
    found: list[Any] = list(
        Inspection.objects.current()
        .filter(wanted, tree_id__in=everywhere)
        .annotate(signs=Count("findings", filter=Q(findings__private=False)))
        .order_by("seen_at", "id")
        .values_list(
            "id",
            "tree_id",
            "round_id",
            "seen_at",
            "received_at",
            "by_id",
            "by__name",
            "all_well",
            "photo_only",
            "signs",
        )
    )
    looks = [StopLook(*row) for row in found]
    by_tree: dict[int, list[StopLook]] = defaultdict(list)
    for look in looks:
        by_tree[look.tree].append(look)
    newest: dict[tuple[int, int], StopLook] = {}
    for row in rows:
        for tree in trees[row.pk]:
            for look in by_tree[tree]:
                hides = look.photo_only and _is_check(newest.get((row.pk, tree)))
                if not hides and (look.round == row.pk or _in_time(row, look)):
                    newest[row.pk, tree] = look
    return newest


def _is_check(look: StopLook | None) -> bool:
    return look is not None and not look.photo_only


def _in_time(row: Round, look: StopLook) -> bool:
    if look.seen_at < _began(row):
        return False
    return row.closed_at is None or look.seen_at <= row.closed_at


def _heard(
    orchard: Orchard, people: Iterable[int | None], *, since: datetime
) -> tuple[Heard, ...]:
    """Tell when something last came in from each person, the newest first."""
    wanted = [number for number in people if number is not None]
    if not wanted:
        return ()
    received, seen = (
        rows.filter(orchard=orchard, by_id__in=wanted, received_at__gte=since)
        .values_list("by_id")
        .annotate(at=Max("received_at"))
        for rows in (Receipt.objects, Inspection.objects)
    )
    last: dict[int, datetime] = {}
    for number, at in received.union(seen, all=True):
        last[number] = max(at, last.get(number, at))
    named = User.objects.in_bulk(list(last))
    heard = [Heard(named[number], at) for number, at in last.items()]
    return tuple(
        sorted(heard, key=lambda entry: (entry.at, entry.person.pk), reverse=True)
    )
