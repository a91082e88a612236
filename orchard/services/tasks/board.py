"""The board: what waits to be done, ranked by what it costs to leave it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, F, IntegerField, Q, QuerySet, Value
from django.db.models.fields import DateField
from django.db.models.functions import Greatest
from django.utils.translation import gettext as _

from orchard.records.days import DaysFrom
from orchard.records.models import Block, Membership, Task, User
from orchard.science.figures import days
from orchard.science.windows import Window, lateness
from orchard.science.words import Verdict
from orchard.services.holds import TreeHold
from orchard.services.paging import page_by_key
from orchard.services.permissions import Deed, may
from orchard.services.tasks import blockers

PAGE = 30
# Lateness is compared in whole ten-thousandths of a rhythm, the same on any database.
FINENESS = 10_000
RANKING = ("rank", "-weight", "due_on", "id")
VERDICTS = {
    Task.Kind.REPORT: Verdict.REPORT,
    Task.Kind.ACT: Verdict.ACT,
    Task.Kind.LOOK: Verdict.WATCH,
}


@dataclass(frozen=True, slots=True)
class BoardFilters:
    """What somebody wants to see of the board; empty means everything."""

    block: str = ""
    person: str = ""
    kind: str = ""
    late: bool = False

    @property
    def is_set(self) -> bool:
        return bool(self.block or self.person or self.kind or self.late)


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One line of the board."""

    number: int
    place: str
    # What stands under the code: the tree's kind or the block's name.
    place_name: str
    tree_code: str
    # None for seasonal care: nobody has judged anything there.
    verdict: Verdict | None
    title: str
    because: str
    opens_on: date
    due_on: date
    days_late: int
    lateness: float
    taken_by: User | None
    is_mine: bool
    waits: tuple[str, ...]
    # Trees of the block that are passed by, by their codes.
    left_out: tuple[str, ...]
    is_private: bool


@dataclass(frozen=True, slots=True)
class BlockTally:
    """How much waits in one block; `code` is "" for work on no block."""

    code: str
    name: str
    waiting: int
    late: int


@dataclass(frozen=True, slots=True)
class Board:
    """A page of the board with what is needed to read it."""

    rows: tuple[BoardRow, ...]
    soon: tuple[BoardRow, ...]
    next_key: str
    tallies: tuple[BlockTally, ...]
    people: tuple[Membership, ...]
    waiting: int
    late: int


@dataclass(frozen=True, slots=True)
class FirstTasks:
    """The first of the work that a member has taken, and of what nobody has."""

    mine: tuple[BoardRow, ...] = ()
    unassigned: tuple[BoardRow, ...] = ()


def board_rows(
    member: Membership,
    *,
    today: date,
    filters: BoardFilters | None = None,
    after: str = "",
) -> Board:
    """Return a page of the work that has begun, in a fixed number of queries.

    Reports stand first, then what findings call for, then care, then looks; within
    each by days late over the work's own rhythm. `after` is the `next_key` of the
    page before.
    """
    filters = filters or BoardFilters()
    seen = _seen_by(member)
    ranked = _weighed(_filtered(seen, member, filters, today).begun(today), today)
    page = page_by_key(ranked, *RANKING, after=after, size=PAGE)
    now = blockers.circumstances(member.orchard, today=today)
    tallies = _tallies(seen, member, today)
    soon: list[Task] = []
    if not after and not filters.late:
        coming = _filtered(seen, member, filters, today).filter(
            opens_on__gt=today, opens_on__lte=today + days("soon_days")
        )
        soon = list(_with_names(coming).order_by("opens_on", "rank", "id")[:PAGE])
    return Board(
        rows=tuple(row_of(task, member, now) for task in page.rows),
        soon=tuple(row_of(task, member, now) for task in soon),
        next_key=page.next_key,
        tallies=tallies,
        people=tuple(_people(member)),
        waiting=sum(tally.waiting for tally in tallies),
        late=sum(tally.late for tally in tallies),
    )


def tallies_for(member: Membership, *, today: date) -> tuple[BlockTally, ...]:
    """Count what waits and what is late, block by block in walking order."""
    return _tallies(_seen_by(member), member, today)


def first_tasks(
    member: Membership,
    *,
    today: date,
    mine: int,
    unassigned: int,
    holds: Mapping[int, tuple[TreeHold, ...]],
) -> FirstTasks:
    """Return the first of the work a member has taken, and of what nobody has."""
    now = blockers.circumstances(member.orchard, today=today, holds=holds)
    ranked = _weighed(_seen_by(member).begun(today), today).order_by(*RANKING)
    taken = ranked.filter(taken_by=member.user)[:mine]
    free = ranked.filter(taken_by=None)[:unassigned]
    return FirstTasks(
        mine=tuple(row_of(task, member, now) for task in taken),
        unassigned=tuple(row_of(task, member, now) for task in free),
    )


def row_of(task: Task, member: Membership, now: blockers.Circumstances) -> BoardRow:
    """Tell one task as a line of the board."""
    kind = Task.Kind(task.kind)
    place, place_name = member.orchard.name, ""
    if task.tree is not None:
        place, place_name = task.tree.code, task.tree.kind.name
    elif task.block is not None:
        place = _("Block %(code)s") % {"code": task.block.code}
        place_name = task.block.name
    window = Window(task.opens_on, task.due_on, task.rhythm_days, task.occurrence)
    return BoardRow(
        number=task.pk,
        place=place,
        place_name=place_name,
        tree_code=task.tree.code if task.tree else "",
        verdict=VERDICTS.get(kind),
        title=task.title,
        because=task.because,
        opens_on=task.opens_on,
        due_on=task.due_on,
        days_late=max(0, (now.today - task.due_on).days),
        lateness=lateness(window, now.today),
        taken_by=task.taken_by,
        is_mine=task.taken_by_id == member.user_id,
        waits=blockers.why_it_waits(task, now),
        left_out=blockers.left_out(task, now),
        is_private=task.private,
    )


def _seen_by(member: Membership) -> Any:
    tasks = Task.objects.in_orchard(member.orchard).open()
    return tasks if may(member, Deed.SEE_PRIVATE) else tasks.not_private()


def _filtered(
    tasks: Any, member: Membership, filters: BoardFilters, today: date
) -> Any:
    if filters.block:
        tasks = tasks.filter(block__code__iexact=filters.block)
    if filters.person == "mine":
        tasks = tasks.filter(taken_by=member.user)
    elif filters.person == "nobody":
        tasks = tasks.filter(taken_by=None)
    elif filters.person.isdigit():
        tasks = tasks.filter(taken_by_id=int(filters.person))
    if filters.kind:
        tasks = tasks.filter(kind=filters.kind)
    return tasks.overdue(today) if filters.late else tasks


def _with_names(tasks: QuerySet[Task]) -> QuerySet[Task]:
    # Where only the year of planting is known, the orchard's calendar is asked.
    return tasks.select_related(
        "tree__kind", "tree__orchard", "block", "taken_by", "finding"
    )


def _weighed(tasks: QuerySet[Task], today: date) -> QuerySet[Task]:
    late = Greatest(
        DaysFrom(F("due_on"), Value(today, output_field=DateField())),
        Value(0),
        output_field=IntegerField(),
    )
    weight = late * Value(FINENESS) / F("rhythm_days")
    return _with_names(tasks).annotate(weight=weight)


def _tallies(tasks: Any, member: Membership, today: date) -> tuple[BlockTally, ...]:
    counted = {
        row["block"]: row
        for row in tasks.begun(today)
        .values("block")
        .annotate(waiting=Count("id"), late=Count("id", filter=Q(due_on__lt=today)))
        .order_by("block")
    }
    blocks = Block.objects.filter(orchard=member.orchard).order_by("position", "id")
    found = [
        BlockTally(
            block.code,
            block.name,
            counted.get(block.pk, {}).get("waiting", 0),
            counted.get(block.pk, {}).get("late", 0),
        )
        for block in blocks
    ]
    if None in counted:
        rest = counted[None]
        found.append(BlockTally("", "", rest["waiting"], rest["late"]))
    return tuple(found)


def _people(member: Membership) -> list[Membership]:
    members = (
        Membership.objects.in_orchard(member.orchard)
        .standing()
        .select_related("user")
        .order_by("user__name", "id")
    )
    return [fellow for fellow in members if may(fellow, Deed.WORK)]
