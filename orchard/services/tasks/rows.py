"""One task as lists of tasks tell it, and what its job is called and takes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import Membership, Task, User
from orchard.science import guide
from orchard.science.figures import figure
from orchard.science.windows import Window, lateness
from orchard.science.words import Verdict
from orchard.services.permissions import Deed, may
from orchard.services.tasks import blockers

VERDICTS = {
    Task.Kind.REPORT: Verdict.REPORT,
    Task.Kind.ACT: Verdict.ACT,
    Task.Kind.LOOK: Verdict.WATCH,
}


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One task as a list tells it."""

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
    minutes: int | None
    taken_by: User | None
    is_mine: bool
    waits: tuple[str, ...]
    # Trees of the block that are passed by, by their codes.
    left_out: tuple[str, ...]
    # Holds there that may or may not forbid it.
    holds_to_mind: tuple[str, ...]
    is_private: bool


def row_of(task: Task, member: Membership, now: blockers.Circumstances) -> BoardRow:
    """Tell one task as a line of a list."""
    kind = Task.Kind(task.kind)
    place, place_name = place_of(task)
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
        minutes=minutes_for(task),
        taken_by=task.taken_by,
        is_mine=task.taken_by_id == member.user_id,
        waits=blockers.why_it_waits(task, now),
        left_out=blockers.left_out(task, now),
        holds_to_mind=blockers.holds_to_mind(task, now),
        is_private=task.private,
    )


def place_of(task: Task) -> tuple[str, str]:
    """Name what a task is about, and what stands under it: its cultivar or block."""
    if task.tree is not None:
        return task.tree.code, task.tree.kind.name
    if task.block is not None:
        return _("Block %(code)s") % {"code": task.block.code}, task.block.name
    return task.orchard.name, ""


def open_tasks_seen_by(member: Membership) -> Any:
    """Return the open tasks of an orchard that a member may know of."""
    tasks = Task.objects.in_orchard(member.orchard).open()
    return tasks if may(member, Deed.SEE_PRIVATE) else tasks.not_private()


def with_names(tasks: QuerySet[Task]) -> QuerySet[Task]:
    """Fetch with tasks all that a row tells of them."""
    # Where only the year of planting is known, the orchard's calendar is asked.
    return tasks.select_related(
        "tree__kind",
        "tree__orchard",
        "block",
        "orchard",
        "taken_by",
        "finding",
        "request",
    )


def job_name(kind: Task.Kind, key: str) -> str:
    """Name the job that tasks of a kind and key have in common."""
    book = guide.load()
    if kind in Task.OF_A_JOB:
        job = book.jobs.get(key)
        return job.name if job is not None else key.replace("_", " ")
    sign = {"sign": book.name_of(key)}
    if kind == Task.Kind.LOOK:
        return _("Look again: %(sign)s") % sign
    if kind == Task.Kind.REPORT:
        return _("Report the suspicion: %(sign)s") % sign
    return sign["sign"]


def work_name(task: Task) -> str:
    """Name what a task has in common with the others of its line."""
    if task.kind == Task.Kind.ONCE and task.key not in guide.load().jobs:
        return task.title
    return job_name(Task.Kind(task.kind), task.key)


def minutes_for(task: Task) -> int | None:
    """Return the minutes a task takes, as it was asked for or as its job usually does.

    None if not known.
    """
    if task.request is not None:
        return task.request.minutes
    return minutes_of(Task.Kind(task.kind), task.key)


def minutes_of(kind: Task.Kind, key: str) -> int | None:
    """Return the minutes that one task of a job usually takes, None if not known."""
    match kind:
        case Task.Kind.CARE | Task.Kind.ONCE:
            job = guide.load().jobs.get(key)
            return round(job.minutes) if job is not None else None
        case Task.Kind.REPORT:
            return round(figure("report_minutes").value)
        case Task.Kind.LOOK:
            return round(figure("look_minutes").value)
        case _:
            return round(figure("act_minutes").value)
