"""The first of the tasks, and their lists, for the first page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import F, IntegerField, QuerySet, Value
from django.db.models.fields import DateField
from django.db.models.functions import Greatest

from orchard.records.days import DaysFrom
from orchard.records.models import Membership, Task
from orchard.services.holds import TreeHold
from orchard.services.tasks import blockers
from orchard.services.tasks.board import is_due_soon
from orchard.services.tasks.rows import (
    BoardRow,
    open_tasks_seen_by,
    row_of,
    with_names,
)
from orchard.services.weather import Outside

# Lateness is compared in whole ten-thousandths of a rhythm, the same on any database.
FINENESS = 10_000
RANKING = ("rank", "-weight", "due_on", "id")


@dataclass(frozen=True, slots=True)
class FirstTasks:
    """The first of the work that a member has taken, and of what nobody has."""

    mine: tuple[BoardRow, ...] = ()
    unassigned: tuple[BoardRow, ...] = ()


def lists_for(member: Membership, *, today: date) -> dict[str, QuerySet[Task]]:
    """Return what the board lists for a member by the filters of the first page.

    By name: all that the member has taken, later ones too, what is unassigned, what is
    late.
    """
    tasks = open_tasks_seen_by(member)
    unfolded = tasks.filter(is_due_soon(today))
    return {
        "mine": tasks.filter(taken_by=member.user),
        "unassigned": unfolded.filter(taken_by=None),
        "late": unfolded.overdue(today),
    }


def first_tasks(
    member: Membership,
    *,
    today: date,
    mine: int,
    unassigned: int,
    holds: Mapping[int, tuple[TreeHold, ...]],
    outside: Outside | None = None,
) -> FirstTasks:
    """Return the first of the work a member has taken, and of what nobody has.

    `holds` are those on the trees today, `outside` is what is forecast where that has
    been read already.
    """
    now = blockers.circumstances(
        member.orchard, today=today, holds=holds, outside=outside
    )
    begun = open_tasks_seen_by(member).begun(today)
    taken = _first_of(begun.filter(taken_by=member.user), today, mine)
    free = _first_of(begun.filter(taken_by=None), today, unassigned)
    return FirstTasks(
        mine=tuple(row_of(task, member, now) for task in taken),
        unassigned=tuple(row_of(task, member, now) for task in free),
    )


def _first_of(tasks: QuerySet[Task], today: date, most: int) -> QuerySet[Task]:
    """Return the first tasks by their rank, each with what its row names.

    Names are read of these alone, and by a second question: within one, PostgreSQL
    joins them to all that are ranked.
    """
    first = _ranked(tasks, today).values_list("pk", flat=True)[:most]
    return _ranked(with_names(Task.objects.filter(pk__in=list(first))), today)


def _ranked(tasks: QuerySet[Task], today: date) -> QuerySet[Task]:
    late = Greatest(
        DaysFrom(F("due_on"), Value(today, output_field=DateField())),
        Value(0),
        output_field=IntegerField(),
    )
    weight = late * Value(FINENESS) / F("rhythm_days")
    return tasks.annotate(weight=weight).order_by(*RANKING)
