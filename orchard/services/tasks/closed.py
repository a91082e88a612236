"""Closed tasks, newest first: what was done, by whom, and what was skipped."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Exists, OuterRef

from orchard.records.models import Closure, Membership, Task, User
from orchard.services.paging import page_by_key
from orchard.services.permissions import Deed, may
from orchard.services.tasks.rows import place_of, work_name

CLOSED_PAGE = 50


@dataclass(frozen=True, slots=True)
class ClosedFilters:
    """What somebody wants to see of closed tasks; empty means everything."""

    kind: str = ""
    key: str = ""
    block: str = ""
    # "mine", or the number of a person.
    person: str = ""
    how: str = ""
    since: date | None = None
    until: date | None = None

    @property
    def is_set(self) -> bool:
        return self != ClosedFilters()


@dataclass(frozen=True, slots=True)
class ClosedRow:
    """One closed task as the list tells it; `by` is None for what the clock closed."""

    number: int
    place: str
    place_name: str
    tree_code: str
    job: str
    how: str
    done_on: date
    by: User | None
    written_by: User | None
    words: str
    is_proven: bool
    is_private: bool


@dataclass(frozen=True, slots=True)
class ClosedTasks:
    """A page of closed tasks, and how many there are in all."""

    rows: tuple[ClosedRow, ...]
    next_key: str
    count: int


def closed_tasks(
    member: Membership, *, filters: ClosedFilters, after: str = ""
) -> ClosedTasks:
    """Return a page of the closings that stand, those done last first."""
    closures = _narrowed(closings_seen_by(member), member, filters)
    named = closures.select_related(
        "by", "written_by", "task__tree__kind", "task__block", "task__orchard"
    ).prefetch_related("photos")
    page = page_by_key(named, "-done_on", "-id", after=after, size=CLOSED_PAGE)
    return ClosedTasks(
        rows=tuple(_row(closure) for closure in page.rows),
        next_key=page.next_key,
        count=closures.count(),
    )


def closings_seen_by(member: Membership) -> Any:
    """Return the closings that stand and that a member may see."""
    tasks = Task.objects.in_orchard(member.orchard).filter(pk=OuterRef("task"))
    if not may(member, Deed.SEE_PRIVATE):
        tasks = tasks.filter(private=False)
    # Asked closing by closing: joined to the tasks, all of them are sorted for a page.
    return Closure.objects.filter(Exists(tasks), undone_at=None)


def _narrowed(closures: Any, member: Membership, filters: ClosedFilters) -> Any:
    given = {
        "task__kind__in": _kinds(filters),
        "task__key": filters.key,
        "task__block__code__iexact": filters.block,
        "how": filters.how,
        "done_on__gte": filters.since,
        "done_on__lte": filters.until,
    }
    closures = closures.filter(**{name: it for name, it in given.items() if it})
    if filters.person == "mine":
        return closures.filter(by=member.user)
    if filters.person:
        return closures.filter(by_id=int(filters.person))
    return closures


def _kinds(filters: ClosedFilters) -> tuple[str, ...]:
    """Return the kinds asked for; a job is one, whoever asked for its tasks."""
    if filters.key and filters.kind in Task.OF_A_JOB:
        return Task.OF_A_JOB
    return (filters.kind,) if filters.kind else ()


def _row(closure: Closure) -> ClosedRow:
    task = closure.task
    place, place_name = place_of(task)
    photos = [photo for photo in closure.photos.all() if photo.is_current]
    return ClosedRow(
        number=task.pk,
        place=place,
        place_name=place_name,
        tree_code=task.tree.code if task.tree else "",
        job=work_name(task),
        how=closure.how,
        done_on=closure.done_on,
        by=closure.by,
        written_by=closure.written_by,
        words=closure.evidence or closure.reason,
        is_proven=closure.is_proven or bool(photos),
        is_private=task.private,
    )
