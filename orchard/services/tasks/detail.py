"""One task with everything a person needs to do it, or to see how it was done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from orchard.records.models import Closure, Membership, Photo, Task
from orchard.science import guide
from orchard.science.source import cite
from orchard.science.verdict import VerdictStep
from orchard.science.words import JobRole
from orchard.services import permissions
from orchard.services.permissions import Deed, may
from orchard.services.tasks import assignment, blockers, closing
from orchard.services.tasks.plans import plan_place
from orchard.services.tasks.rows import BoardRow, row_of


@dataclass(frozen=True, slots=True)
class TaskEnding:
    """One way the task was ended, taken back or not, with what proves it."""

    closure: Closure
    photos: tuple[Photo, ...]
    is_proven: bool
    stands: bool
    has_litres: bool


@dataclass(frozen=True, slots=True)
class About:
    """A task as its page tells it."""

    task: Task
    row: BoardRow
    steps: tuple[VerdictStep, ...]
    do_not: tuple[str, ...]
    cautions: tuple[str, ...]
    who: str
    minutes: float | None
    tools: str
    evidence: str
    # What to do, as it was written when the task was asked for by hand.
    asked_steps: tuple[str, ...]
    to_photograph: tuple[str, ...]
    sources: tuple[str, ...]
    sign_key: str
    job_key: str
    is_ripeness_test: bool
    # It is done by recording what was picked of its tree.
    is_harvest: bool
    # The kinds of treatment that this work is recorded as.
    treatments: tuple[str, ...]
    endings: tuple[TaskEnding, ...]
    can_work: bool
    can_take: bool
    can_give_back: bool
    can_withdraw: bool
    can_reopen: bool
    takers: tuple[Membership, ...]

    @property
    def heading(self) -> str:
        """Return the short name of the work: its steps stand below on the page."""
        sign = guide.load().signs.get(self.sign_key)
        if sign is not None and self.task.kind == Task.Kind.ACT:
            return sign.name
        return self.task.title

    @property
    def has_own_form(self) -> bool:
        """Whether it is closed by recording what was done, on a form of its own."""
        return self.is_ripeness_test or self.is_harvest or bool(self.treatments)

    @property
    def is_open(self) -> bool:
        return self.task.closed_at is None

    @property
    def ending(self) -> TaskEnding | None:
        """Return the way it stands ended, None while it is open."""
        return next(
            (ending_row for ending_row in self.endings if ending_row.stands), None
        )


def task_detail(task: Task, member: Membership, *, today: date) -> About:
    """Gather what is known about one task for one member."""
    now = blockers.circumstances(task.orchard, today=today)
    book = guide.load()
    of_a_job = task.kind in Task.OF_A_JOB
    job = book.jobs.get(task.key) if of_a_job else None
    sign = None if of_a_job else book.signs.get(task.key)
    asked = task.request
    works = may(member, Deed.WORK)
    is_open = task.closed_at is None
    names = job.sources if job else sign.sources if sign else ()
    plan = sign.plan(plan_place(task.kind, sign, task.finding)) if sign else None
    cautions = plan.caution if plan else (task.caution,) if task.caution else ()
    return About(
        task=task,
        row=row_of(task, member, now),
        steps=blockers.steps_of(task, now),
        do_not=sign.do_not if sign else (),
        cautions=cautions,
        who=job.who if job else "",
        minutes=asked.minutes if asked else job.minutes if job else None,
        tools=job.tools if job else "",
        evidence=(asked.evidence if asked else "") or (job.evidence if job else ""),
        asked_steps=tuple(asked.steps.splitlines()) if asked else (),
        to_photograph=sign.photos if sign else (),
        sources=tuple(cite(book.sources[name]) for name in names),
        sign_key=sign.key if sign else "",
        job_key=job.key if job else "",
        is_ripeness_test=job is not None and JobRole.RIPENESS_TEST in job.roles,
        is_harvest=job is not None
        and JobRole.HARVEST in job.roles
        and task.tree_id is not None,
        treatments=tuple(book.treatments_of(job.key)) if job else (),
        endings=_endings(task, member),
        can_work=works and is_open,
        can_take=works and is_open and task.taken_by_id is None,
        can_give_back=works and is_open and task.taken_by_id == member.user_id,
        can_withdraw=asked is not None and is_open and may(member, Deed.PLAN_WORK),
        can_reopen=works and closing.can_reopen(task),
        takers=tuple(assignment.who_may_take_on(task))
        if is_open and may(member, Deed.HAND_OVER)
        else (),
    )


def _endings(task: Task, member: Membership) -> tuple[TaskEnding, ...]:
    closures = (
        task.closures.select_related("by", "written_by", "undone_by")
        .prefetch_related("photos", "waterings")
        .order_by("-closed_at", "-id")
    )
    found = []
    for closure in closures:
        photos_now = [photo for photo in closure.photos.all() if photo.is_current]
        seen = tuple(photo for photo in photos_now if permissions.sees(member, photo))
        found.append(
            TaskEnding(
                closure=closure,
                photos=seen,
                is_proven=closure.is_proven or bool(photos_now),
                stands=closure.undone_at is None,
                has_litres=any(row.is_current for row in closure.waterings.all()),
            )
        )
    return tuple(found)
