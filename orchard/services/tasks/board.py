"""The board: open tasks by job, in bands of what it costs to leave them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from functools import partial
from typing import Any, Self

from django.db.models import Count, Max, Min, Q, Sum

from orchard.records.models import Block, Membership, Orchard, Task, User
from orchard.science import guide
from orchard.science.figures import days
from orchard.science.windows import Window, lateness
from orchard.science.words import Verdict
from orchard.services.paging import Page, page_by_key, page_of_rows
from orchard.services.tasks import blockers
from orchard.services.tasks.assignment import who_may_work
from orchard.services.tasks.rows import (
    VERDICTS,
    BoardRow,
    job_name,
    minutes_of,
    open_tasks_seen_by,
    row_of,
    with_names,
)

PAGE = 50
# So many lines are shown at once.
LINES = 80
# No block has this code.
NO_BLOCK = "-"


class BoardBand(StrEnum):
    """A part of the board: what cannot wait, what is due, what is folded away."""

    DANGER = "danger"
    DUE = "due"
    LATER = "later"


@dataclass(frozen=True, slots=True)
class GroupKey:
    """The name of a line of the board, as addresses carry it."""

    band: BoardBand
    kind: Task.Kind
    key: str

    def __str__(self) -> str:
        return f"{self.band}-{self.kind}-{self.key}"

    @classmethod
    def read(cls, text: str) -> Self | None:
        """Read a line's name from an address; None when it makes no sense."""
        band, _dash, rest = text.partition("-")
        kind, _dash, key = rest.partition("-")
        if band not in set(BoardBand) or kind not in Task.Kind.values:
            return None
        if not key or "\0" in key:
            return None
        return cls(BoardBand(band), Task.Kind(kind), key)


@dataclass(frozen=True, slots=True)
class BoardFilters:
    """What somebody wants to see of the board; empty means everything."""

    block: str = ""
    person: str = ""
    kind: str = ""
    late: bool = False
    # Due from today on within the days that are called soon.
    soon: bool = False

    @property
    def is_set(self) -> bool:
        return bool(self.block or self.person or self.kind or self.late or self.soon)


@dataclass(frozen=True, slots=True)
class GroupLine:
    """One line of the board: a job with all its tasks that are open in a band."""

    key: GroupKey
    name: str
    verdict: Verdict | None
    tasks: int
    trees: int
    # The codes of its blocks in walking order.
    blocks: tuple[str, ...]
    oldest_due: date
    minutes: int | None
    taken: int
    # Who has some of it, where it is one person alone.
    taken_by: User | None
    rows: tuple[BoardRow, ...] = ()
    next_key: str = ""


@dataclass(frozen=True, slots=True)
class Board:
    """The board with what is needed to read it; `later` is None while it is folded.

    The bands have the lines of one page; what is counted is all there is.
    """

    danger: tuple[GroupLine, ...]
    due: tuple[GroupLine, ...]
    later: tuple[GroupLine, ...] | None
    blocks: tuple[Block, ...]
    people: tuple[Membership, ...]
    # The page of lines begins after a line's name, and is followed by another.
    lines_after: str
    next_lines: str
    tasks_in: Mapping[BoardBand, int]
    tasks: int
    late: int
    # Of what is late or due this week.
    minutes_this_week: int


@dataclass(slots=True)
class _Tally:
    """What is counted of one line of the board, block by block."""

    rank: int
    tasks: int = 0
    trees: int = 0
    late: int = 0
    this_week: int = 0
    taken: int = 0
    rhythm: int = 0
    oldest_due: date = date.max
    # Only of what was asked for by hand: each has a title and minutes of its own.
    title: str = ""
    minutes: int | None = None
    minutes_this_week: int = 0
    # Of each block that it has tasks in.
    late_in: Counter[int | None] = field(default_factory=Counter)
    takers: set[int | None] = field(default_factory=set)

    def lateness(self, today: date) -> float:
        """Measure the latest of its tasks against their shortest rhythm."""
        due = self.oldest_due
        return lateness(Window(due, due, self.rhythm, ""), today)


@dataclass(frozen=True, slots=True)
class BoardTotals:
    """How long takes what is late or due this week, and how much is late where."""

    minutes_this_week: int
    late_in: Counter[int | None]


@dataclass(frozen=True, slots=True)
class LateInBlock:
    """How many tasks are late in one block; `code` is "" for work on no block."""

    code: str
    late: int


def board_for(
    member: Membership,
    *,
    today: date,
    filters: BoardFilters | None = None,
    opened: GroupKey | None = None,
    after: str = "",
    with_later: bool = False,
    lines_after: str = "",
) -> Board:
    """Return the board, counted by the database in a fixed number of queries.

    Each band has a line for each job, what cannot wait first, then what is latest for
    its own rhythm. Of many lines those after `lines_after` are shown. One line may be
    `opened` to a page of its tasks, the page after the key `after`; the page of lines
    is then the one it is on.
    """
    filters = filters or BoardFilters()
    tasks = filtered(open_tasks_seen_by(member), member, filters, today)
    blocks = tuple(
        Block.objects.filter(orchard=member.orchard).order_by("position", "id")
    )
    people = tuple(who_may_work(member.orchard))
    tallies = _tallies(tasks.filter(is_due_soon(today)), today)
    if with_later:
        tallies |= _tallies(
            tasks.filter(in_band(BoardBand.LATER, today)), today, later=True
        )
    names = {person.user_id: person.user for person in people}
    keys = [
        key for key, _tally in sorted(tallies.items(), key=partial(_urgency, today))
    ]
    shown_lines, lines_after = _page_of_lines(keys, lines_after, opened)
    lines = [_line(key, tallies[key], blocks, names) for key in shown_lines.rows]
    if opened in tallies:
        place = next(at for at, line in enumerate(lines) if line.key == opened)
        page = page_by_key(
            with_names(tasks.filter(in_group(opened, today))),
            "due_on",
            "id",
            after=after,
            size=PAGE,
        )
        now = blockers.circumstances(member.orchard, today=today)
        lines[place] = replace(
            lines[place],
            rows=tuple(row_of(task, member, now) for task in page.rows),
            next_key=page.next_key,
        )
    danger, due, later = (
        tuple(line for line in lines if line.key.band == band) for band in BoardBand
    )
    shown = {
        key: tally for key, tally in tallies.items() if key.band != BoardBand.LATER
    }
    return Board(
        danger=danger,
        due=due,
        later=later if with_later else None,
        blocks=blocks,
        people=people,
        lines_after=lines_after,
        next_lines=shown_lines.next_key,
        tasks_in={
            band: sum(row.tasks for key, row in tallies.items() if key.band == band)
            for band in BoardBand
        },
        tasks=sum(tally.tasks for tally in shown.values()),
        late=sum(tally.late for tally in shown.values()),
        minutes_this_week=sum(
            _minutes_this_week(key, tally) for key, tally in shown.items()
        ),
    )


def _page_of_lines(
    keys: Sequence[GroupKey], after: str, opened: GroupKey | None
) -> tuple[Page[GroupKey], str]:
    """Return a page of lines, and the name of the line it begins after.

    A line that is open stands on it, whatever page was asked for.
    """
    page = page_of_rows(keys, str, after=after, size=LINES)
    if opened in keys and opened not in page.rows:
        place = keys.index(opened)
        first = place - place % LINES
        after = str(keys[first - 1]) if first else ""
        page = page_of_rows(keys, str, after=after, size=LINES)
    return page, after if page.rows and page.rows[0] != keys[0] else ""


def totals_for(member: Membership, *, today: date) -> BoardTotals:
    """Add up all that the board lists for a member."""
    tasks = open_tasks_seen_by(member).filter(is_due_soon(today))
    tallies = _tallies(tasks, today)
    late: Counter[int | None] = Counter()
    for tally in tallies.values():
        late.update(tally.late_in)
    minutes = sum(_minutes_this_week(key, tally) for key, tally in tallies.items())
    return BoardTotals(minutes, late)


def late_by_block(orchard: Orchard, totals: BoardTotals) -> tuple[LateInBlock, ...]:
    """Name the blocks where tasks are late, in walking order; those of none last."""
    late = totals.late_in
    blocks = Block.objects.filter(orchard=orchard).order_by("position", "id")
    codes = dict(blocks.values_list("pk", "code")) if any(late.values()) else {}
    found = [LateInBlock(code, late[block]) for block, code in codes.items()]
    found.append(LateInBlock("", late[None]))
    return tuple(block for block in found if block.late)


def open_line(member: Membership, key: str, *, today: date) -> GroupLine | None:
    """Return the line of the board with the open tasks of a job of the care plan.

    None while it has none that are begun.
    """
    tasks = open_tasks_seen_by(member).filter(kind=Task.Kind.CARE, key=key)
    tallies = _tallies(tasks.filter(is_due_soon(today)), today)
    lines = [_line(named, tally, (), {}) for named, tally in tallies.items()]
    return lines[0] if lines else None


def filtered(tasks: Any, member: Membership, filters: BoardFilters, today: date) -> Any:
    """Narrow tasks to what somebody wants to see."""
    if filters.block == NO_BLOCK:
        tasks = tasks.filter(block=None)
    elif filters.block:
        tasks = tasks.filter(block__code__iexact=filters.block)
    if filters.person == "mine":
        tasks = tasks.filter(taken_by=member.user)
    elif filters.person == "nobody":
        tasks = tasks.filter(taken_by=None)
    elif filters.person.isdigit():
        tasks = tasks.filter(taken_by_id=int(filters.person))
    if filters.kind:
        tasks = tasks.filter(kind=filters.kind)
    if filters.late:
        tasks = tasks.overdue(today)
    if filters.soon:
        tasks = tasks.begun(today).filter(
            due_on__gte=today, due_on__lte=today + days("soon_days")
        )
    return tasks


def shown_on_board(
    member: Membership,
    *,
    today: date,
    filters: BoardFilters,
    opened: GroupKey | None = None,
    with_later: bool = False,
) -> Any:
    """Return the tasks that the board shows: of the line that is open, else of all."""
    tasks = filtered(open_tasks_seen_by(member), member, filters, today)
    if opened is not None:
        return tasks.filter(in_group(opened, today))
    return tasks if with_later else tasks.filter(is_due_soon(today))


def in_group(group: GroupKey, today: date) -> Q:
    """Return the condition of the tasks of one line of the board."""
    return Q(kind=group.kind, key=group.key) & in_band(group.band, today)


def in_band(band: BoardBand, today: date) -> Q:
    """Return the condition of the tasks of a band."""
    match band:
        case BoardBand.LATER:
            ahead = today + days("board_ahead_days")
            return Q(opens_on__gt=today) | Q(due_on__gt=ahead)
        case BoardBand.DANGER:
            return is_due_soon(today) & Q(rank=Task.RANK_OF_DANGER)
        case BoardBand.DUE:
            return is_due_soon(today) & Q(rank__gt=Task.RANK_OF_DANGER)


def is_due_soon(today: date) -> Q:
    """Return the condition of the tasks that are not folded away."""
    ahead = today + days("board_ahead_days")
    return Q(opens_on__lte=today, due_on__lte=ahead)


def _tallies(tasks: Any, today: date, *, later: bool = False) -> dict[GroupKey, _Tally]:
    """Count tasks by job and band; the database adds them up for each block."""
    # One index holds every column named here, so no task itself is read.
    rows = (
        tasks.order_by()
        .values_list("rank", "kind", "key", "block")
        .annotate(
            tasks=Count("*"),
            trees=Count("tree"),
            late=Count("rank", filter=Q(due_on__lt=today)),
            this_week=Count("rank", filter=Q(due_on__lte=today + days("soon_days"))),
            taken=Count("taken_by"),
            first_taker=Min("taken_by"),
            last_taker=Max("taken_by"),
            oldest_due=Min("due_on"),
            rhythm=Min("rhythm_days"),
        )
    )
    found: dict[tuple[BoardBand, str, str], _Tally] = {}
    for rank, kind, key, block, count, trees, late, week, taken, *others in rows:
        first, last, oldest_due, rhythm = others
        band = BoardBand.DANGER if rank == Task.RANK_OF_DANGER else BoardBand.DUE
        named = (BoardBand.LATER if later else band, kind, key)
        tally = found.get(named)
        if tally is None:
            tally = found[named] = _Tally(rank, rhythm=rhythm)
        tally.rank = min(tally.rank, rank)
        tally.tasks += count
        tally.trees += trees
        tally.late += late
        tally.this_week += week
        tally.taken += taken
        tally.late_in[block] += late
        tally.takers |= {first, last}
        tally.rhythm = min(tally.rhythm, rhythm)
        tally.oldest_due = min(tally.oldest_due, oldest_due)
    if any(kind == Task.Kind.ONCE for _band, kind, _key in found):
        _add_requests(tasks, found, today)
    return {
        GroupKey(band, Task.Kind(kind), key): tally
        for (band, kind, key), tally in found.items()
    }


def _add_requests(
    tasks: Any, found: Mapping[tuple[BoardBand, str, str], _Tally], today: date
) -> None:
    """Add to lines what was said when their tasks were asked for by hand."""
    week = Q(due_on__lte=today + days("soon_days"))
    rows = (
        tasks.filter(kind=Task.Kind.ONCE)
        .order_by()
        .values_list("key")
        .annotate(
            title=Max("title"),
            minutes=Sum("request__minutes"),
            this_week=Sum("request__minutes", filter=week),
        )
    )
    by_key = {key: rest for key, *rest in rows}
    for (_band, kind, key), tally in found.items():
        if kind == Task.Kind.ONCE:
            title, tally.minutes, this_week = by_key[key]
            tally.title = "" if key in guide.load().jobs else title
            tally.minutes_this_week = this_week or 0


def _minutes(key: GroupKey, tally: _Tally) -> int | None:
    if key.kind == Task.Kind.ONCE:
        return tally.minutes
    minutes = minutes_of(key.kind, key.key)
    return None if minutes is None else minutes * tally.tasks


def _minutes_this_week(key: GroupKey, tally: _Tally) -> int:
    if key.kind == Task.Kind.ONCE:
        return tally.minutes_this_week
    return (minutes_of(key.kind, key.key) or 0) * tally.this_week


def _urgency(today: date, counted: tuple[GroupKey, _Tally]) -> tuple[object, ...]:
    key, tally = counted
    rank = 0 if key.band == BoardBand.LATER else tally.rank
    band = list(BoardBand).index(key.band)
    return band, rank, -tally.lateness(today), tally.oldest_due, key.kind, key.key


def _line(
    key: GroupKey,
    tally: _Tally,
    blocks: Iterable[Block],
    names: Mapping[int, User],
) -> GroupLine:
    takers = tally.takers - {None}
    alone = takers.pop() if len(takers) == 1 else None
    return GroupLine(
        key=key,
        name=tally.title or job_name(key.kind, key.key),
        verdict=VERDICTS.get(key.kind),
        tasks=tally.tasks,
        trees=tally.trees,
        blocks=tuple(block.code for block in blocks if block.pk in tally.late_in),
        oldest_due=tally.oldest_due,
        minutes=_minutes(key, tally),
        taken=tally.taken,
        taken_by=names.get(alone) if alone is not None else None,
    )
