"""One-off tasks: asked for by hand, for chosen trees, a block or the whole orchard."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import blake2s
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import (
    Block,
    BulkChange,
    Membership,
    Orchard,
    Target,
    Task,
    TaskRequest,
    Tree,
    User,
)
from orchard.science import guide
from orchard.science.codes import plain_code
from orchard.science.words import JobScope
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.tasks import turns
from orchard.services.tasks.assignment import worker_in
from orchard.services.tasks.board import BoardFilters, GroupKey, shown_on_board
from orchard.services.tasks.many import (
    MOST_AT_ONCE,
    BulkOutcome,
    LeftTask,
    cancel_many,
    note_change,
)

Place = Tree | Block | Orchard
TITLE_LENGTH = 160
# So many trees are named one by one.
FEW_TREES = 3


@dataclass(frozen=True, slots=True)
class OneOff:
    """What somebody asks for: a job of the guide, or a title of one's own.

    With a job the title says what is special this time.
    """

    due_on: date | None
    job: str = ""
    title: str = ""
    steps: str = ""
    evidence: str = ""
    minutes: int | None = None
    work: str = ""


def faults_of(asked: OneOff, *, today: date) -> list[Refused]:
    """Return all that is wrong with what is asked for, each with its field."""
    faults = []
    title = asked.title.strip()
    if not title and not asked.job:
        faults.append(
            Refused(
                _("Choose a job, or write a title."), code="no_title", field="title"
            )
        )
    if asked.job and asked.job not in guide.load().jobs:
        text = _("The guide has no such job. Choose one from the list.")
        faults.append(Refused(text, code="unknown_job", field="job"))
    too_long = len(_title_of(asked)) - TITLE_LENGTH
    if too_long > 0:
        text = ngettext(
            "With the job's name this title is %(count)d character too long. Shorten "
            "it; more goes into the steps.",
            "With the job's name this title is %(count)d characters too long. Shorten "
            "it; more goes into the steps.",
            too_long,
        )
        text %= {"count": too_long}
        faults.append(Refused(text, code="title_too_long", field="title"))
    if asked.due_on is not None and asked.due_on < today:
        text = _("%(day)s is in the past. Enter a day from today on.")
        day = date_format(asked.due_on, "j M Y")
        faults.append(Refused(text % {"day": day}, code="wrong_day", field="due_on"))
    return faults


def trees_named(orchard: Orchard, words: Iterable[str]) -> list[Tree]:
    """Return the growing trees that codes name: a tree's own, or all of a block's.

    Raises:
        Refused (unknown_codes): some of them name nothing that grows here; all are
            said.
    """
    asked = {plain_code(word).casefold(): word for word in words}
    trees = list(_growing(orchard).in_walking_order())
    by_code = {plain_code(tree.code).casefold(): [tree] for tree in trees}
    by_block: dict[str, list[Tree]] = {}
    for tree in trees:
        by_block.setdefault(tree.spot.block.code.casefold(), []).append(tree)
    named = by_block | by_code
    missing = [word for key, word in asked.items() if key not in named]
    if missing:
        text = ngettext(
            "No tree that grows here, and no block with one, has the code %(codes)s. "
            "Correct it, or leave it out.",
            "No tree that grows here, and no block with one, has the codes %(codes)s. "
            "Correct them, or leave them out.",
            len(missing),
        )
        raise Refused(
            text % {"codes": ", ".join(missing)}, code="unknown_codes", field="codes"
        )
    wanted = {tree.pk for key in asked for tree in named[key]}
    return [tree for tree in trees if tree.pk in wanted]


def name_places(orchard: Orchard, codes: Sequence[str]) -> str:
    """Name growing trees that codes name, in short: 12 trees of block B.

    "" where a code names nothing, or is written otherwise than on the tag.
    """
    if not codes:
        return ""
    named = _growing(orchard).filter(Q(code__in=codes) | Q(spot__block__code__in=codes))
    found = list(named.values_list("code", "spot__block__code"))
    trees, blocks = {code for code, _block in found}, {block for _code, block in found}
    if not set(codes) <= trees | blocks:
        return ""
    if len(trees) <= FEW_TREES:
        return ", ".join(sorted(trees))
    if len(blocks) == 1:
        text = _("%(count)d trees of block %(block)s")
        return text % {"count": len(trees), "block": blocks.pop()}
    text = _("%(count)d trees of %(blocks)d blocks")
    return text % {"count": len(trees), "blocks": len(blocks)}


def fitting_places(
    orchard: Orchard, job: str, places: Sequence[Place]
) -> Sequence[Place]:
    """Return where tasks of a job stand, so that what follows from them is found there.

    A job that is done tree by tree stands at each tree of a block or of the orchard; a
    title of one's own stands where it is asked for.

    Raises:
        Refused (wrong_place): the job is for whole blocks, or for the whole orchard.
        Refused (no_trees): no tree grows there.
    """
    asked = guide.load().jobs.get(job)
    if asked is None or all(_scope_of(place) is asked.scope for place in places):
        return places
    words = {"job": asked.name}
    if asked.scope is JobScope.ORCHARD:
        text = _("%(job)s: a task of this job is for the whole orchard. Choose that.")
        raise Refused(text % words, code="wrong_place", field="where")
    if asked.scope is JobScope.BLOCK:
        text = _("%(job)s: a task of this job is for a whole block. Choose a block.")
        raise Refused(text % words, code="wrong_place", field="where")
    trees: dict[int, Place] = {}
    for place in places:
        found = [place] if isinstance(place, Tree) else _growing_in(orchard, place)
        trees.update((tree.pk, tree) for tree in found)
    if not trees:
        text = _("No tree grows there. Choose another place.")
        raise Refused(text, code="no_trees", field="where")
    return list(trees.values())


def _scope_of(place: Place) -> JobScope:
    if isinstance(place, Tree):
        return JobScope.TREE
    return JobScope.BLOCK if isinstance(place, Block) else JobScope.ORCHARD


def _growing_in(orchard: Orchard, place: Block | Orchard) -> list[Tree]:
    trees = _growing(orchard)
    if isinstance(place, Block):
        trees = trees.filter(spot__block=place)
    return list(trees.in_walking_order())


def trees_on_board(
    member: Membership,
    *,
    today: date,
    filters: BoardFilters,
    opened: GroupKey | None = None,
    with_later: bool = False,
) -> list[Tree]:
    """Return the trees of the tasks that the board shows: of one open line, or all."""
    tasks = shown_on_board(
        member, today=today, filters=filters, opened=opened, with_later=with_later
    )
    trees = _growing(member.orchard).filter(
        pk__in=tasks.exclude(tree=None).order_by().values("tree")
    )
    return list(trees.in_walking_order())


def _growing(orchard: Orchard) -> Any:
    trees = Tree.objects.in_orchard(orchard).looked_after()
    return trees.select_related("kind", "spot__block", "orchard")


def ask_for(
    orchard: Orchard,
    asked: OneOff,
    places: Sequence[Place],
    *,
    not_for: Collection[int] = (),
    to: User | None = None,
    by: User,
    now: datetime,
    today: date,
) -> BulkOutcome:
    """Open a task at each place; where the same one is open already, none is added.

    Nor is one at the trees `not_for` names, which the job is not for.

    Raises:
        Refused: the first of `faults_of`.
        Refused: as `fitting_places`.
        Refused (no_trees): there is no place, the task is open at all of them, or the
            job is for no tree there.
        Refused (too_many): they are more than can be added at once.
        Refused (cannot_take_on): the person may not work here.
    """
    for fault in faults_of(asked, today=today):
        raise fault
    if not places:
        text = _("Say which trees: their codes, or a block's.")
        raise Refused(text, code="no_trees", field="codes")
    places = fitting_places(orchard, asked.job, places)
    if len(places) > MOST_AT_ONCE:
        text = _("More than %(most)d trees. Add them block by block.")
        raise Refused(text % {"most": MOST_AT_ONCE}, code="too_many", field="where")
    if to is not None:
        worker_in(orchard, to)
    with transaction.atomic():
        request = _request(orchard, asked, by, now)
        rows = [_task(request, asked, place, to, now, today) for place in places]
        fitting = [task for task in rows if task.tree_id not in not_for]
        if not fitting:
            text = _("%(job)s is for: %(trees)s. No tree there is such a one.")
            job = guide.load().jobs[asked.job]
            words = {"job": job.name, "trees": job.applies_words}
            raise Refused(text % words, code="no_trees", field="where")
        new, left = _apart(orchard, fitting)
        left += tuple(
            LeftTask(task, _("the job isn't for it"))
            for task in rows
            if task.tree_id in not_for
        )
        if not new:
            text = _("This task is open there already. Nothing was added.")
            raise Refused(text, code="no_trees", field="where")
        audit.save(
            Verb.MAKE,
            request,
            by=by,
            now=now,
            fields=["title", "job", "steps", "evidence", "minutes", "work"],
        )
        for task in new:
            task.request, task.occurrence = request, turns.turn_of_request(request)
        audit.save_new_rows(new)
        audit.write_lines(
            audit.line(
                Verb.OPEN,
                task,
                by=by,
                now=now,
                orchard=orchard,
                tree=task.tree,
                after=audit.snapshot(task, "title", "opens_on", "due_on")
                | {"taken_by": to.name if to else None},
            )
            for task in new
        )
        before = {task.pk: task.taken_by_id for task in new}
        change = note_change(BulkChange.Deed.MAKE, new, before, None, by=by, now=now)
    return BulkOutcome(len(new), left, change)


def open_tasks_of(request: TaskRequest) -> list[Task]:
    """Return the tasks of a request that are still open, in walking order."""
    rows = request.tasks.open().select_related("tree__kind", "block", "orchard")
    order = ("tree__spot__block__position", "tree__spot__position", "pk")
    return list(rows.order_by(*order))


def withdraw_request(
    request: TaskRequest,
    numbers: Iterable[int],
    *,
    by: User,
    now: datetime,
    today: date,
    reason: str,
) -> BulkOutcome:
    """Cancel some of the open tasks that came of a request; what is done stays done.

    Raises:
        Refused (reason_missing): no reason is given.
        Refused (nothing_chosen): none of them is open.
    """
    tasks = list(request.tasks.open().filter(pk__in=list(numbers)).order_by("pk"))
    if not tasks:
        raise Refused(
            _("Tick at least one tree."), code="nothing_chosen", field="tasks"
        )
    return cancel_many(tasks, by=by, now=now, today=today, reason=reason)


def _request(orchard: Orchard, asked: OneOff, by: User, now: datetime) -> TaskRequest:
    job = guide.load().jobs.get(asked.job)
    usual = round(job.minutes) if job is not None else None
    lines = (line.strip() for line in asked.steps.splitlines())
    return TaskRequest(
        orchard=orchard,
        by=by,
        made_at=now,
        title=_title_of(asked),
        job=asked.job,
        steps="\n".join(line for line in lines if line),
        evidence=asked.evidence.strip(),
        minutes=asked.minutes or usual,
        work="" if job is not None else asked.work,
    )


def _title_of(asked: OneOff) -> str:
    job = guide.load().jobs.get(asked.job)
    parts = (job.name if job is not None else "", asked.title.strip())
    return ": ".join(part for part in parts if part)


def _task(
    request: TaskRequest,
    asked: OneOff,
    place: Place,
    to: User | None,
    now: datetime,
    today: date,
) -> Task:
    assert asked.due_on is not None
    job = guide.load().jobs.get(asked.job)
    tree = place if isinstance(place, Tree) else None
    block_id = place.pk if isinstance(place, Block) else None
    return Task(
        orchard=request.orchard,
        block_id=tree.spot.block_id if tree else block_id,
        tree=tree,
        kind=Task.Kind.ONCE,
        rank=Task.RANKS[Task.Kind.ONCE],
        key=asked.job or _key_of(request.title, asked.due_on),
        title=request.title,
        because=job.why[:500] if job is not None else "",
        caution=job.caution[:500] if job is not None else "",
        opens_on=today,
        due_on=asked.due_on,
        rhythm_days=max((asked.due_on - today).days, 1),
        taken_by=to,
        made_at=now,
    )


def _key_of(title: str, due_on: date) -> str:
    """Name what tasks of one title and day have in common, so that they are a line."""
    words = " ".join(title.casefold().split())
    digest = blake2s(f"{words} {due_on}".encode(), digest_size=8)
    return f"asked_{digest.hexdigest()}"


def _apart(
    orchard: Orchard, rows: Iterable[Task]
) -> tuple[list[Task], tuple[LeftTask, ...]]:
    """Part new tasks from those that are open already, by the plan or by hand."""
    rows = list(rows)
    open_ones = Task.objects.in_orchard(orchard).open().of_jobs()
    standing = {
        Target.from_columns(tree_id, block_id)
        for tree_id, block_id in open_ones.filter(key=rows[0].key).values_list(
            "tree_id", "block_id"
        )
    }
    new = [task for task in rows if task.target not in standing]
    left = [
        LeftTask(task, _("it is open already"))
        for task in rows
        if task.target in standing
    ]
    return new, tuple(left)
