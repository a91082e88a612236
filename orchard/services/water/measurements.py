"""The ground: soil set, crowns measured, waterings noted.

Each note can be corrected or withdrawn with a reason; what was noted stays readable.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import IO, Any, NamedTuple, TypeVar

from django.db import transaction
from django.db.models import QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import (
    Block,
    Closure,
    Crown,
    Orchard,
    Soil,
    Task,
    Tree,
    User,
    Watering,
)
from orchard.science.figures import limits
from orchard.science.words import JobRole
from orchard.services import audit, corrections, tasks
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.quantities import quantity

Noted = TypeVar("Noted", Crown, Watering)


class Withdrawal(NamedTuple):
    """What withdrawing a note did to the work it had closed, if there was any."""

    reopened: Task | None = None
    why_closed: str = ""


DEPTHS = ("depth_new_m", "depth_young_m", "depth_mature_m")
SOIL_FIELDS = ("sort", "cover", "is_strip", *DEPTHS)


def set_soil(
    orchard: Orchard,
    *,
    sort: str,
    cover: str,
    by: User,
    now: datetime,
    is_strip: bool = False,
    depth_new_m: float | None = None,
    depth_young_m: float | None = None,
    depth_mature_m: float | None = None,
) -> Soil:
    """Set what the ground is like from now on; earlier rows stay readable.

    Raises:
        Refused (out_of_range): roots of no depth, or deeper than citrus roots.
    """
    row = Soil(
        orchard=orchard,
        sort=sort,
        cover=cover,
        is_strip=is_strip,
        depth_new_m=depth_new_m,
        depth_young_m=depth_young_m,
        depth_mature_m=depth_mature_m,
        by=by,
        set_at=now,
    )
    _check_depths(row)
    with transaction.atomic():
        before = soil_of(orchard)
        return audit.save(
            Verb.SET,
            row,
            by=by,
            now=now,
            fields=SOIL_FIELDS,
            before=audit.snapshot(before, *SOIL_FIELDS) if before else None,
        )


def _check_depths(row: Soil) -> None:
    least, most = limits("root_depth_m")
    for field in DEPTHS:
        depth = getattr(row, field)
        if depth is not None and not least < depth <= most:
            raise Refused(
                _("Enter the depth of the roots: above 0, up to %(most)s.")
                % {"most": quantity(most, "m", row.orchard.units)},
                code="out_of_range",
                field=field,
            )


def soil_of(orchard: Orchard) -> Soil | None:
    """Return the newest row of what the ground of an orchard is like."""
    newest: Soil | None = Soil.objects.filter(orchard=orchard).order_by("-id").first()
    return newest


def blocks_to_water(orchard: Orchard) -> QuerySet[Block]:
    """Return the blocks of an orchard, in walking order."""
    return Block.objects.filter(orchard=orchard).order_by("position", "id")


def growing_in(block: Block) -> list[Tree]:
    """List the growing trees of a block, in walking order."""
    trees = Tree.objects.filter(spot__block=block).looked_after()
    return list(trees.select_related("orchard").in_walking_order())


def note_watering(
    trees: Iterable[Tree],
    *,
    given_on: date,
    litres: float | Mapping[int, float],
    by: User,
    now: datetime,
    today: date,
    note: str = "",
) -> list[Watering]:
    """Note water given to each of some trees, and close the work it does.

    As many litres to each of them, or to each its own by the tree's number.

    Raises:
        Refused (no_tree): none of them grows. wrong_day: in the future, or a tree was
            not here.
        Refused (out_of_range): no water, or more than a tree is ever given.
    """
    chosen = [tree for tree in trees if tree.state == Tree.State.GROWING]
    if not chosen:
        raise Refused(
            _("No tree grows there. Choose a tree or a block with trees."),
            code="no_tree",
        )
    given = {"given_on": given_on, "note": note.strip()}
    rows = _waterings(chosen, litres, given, by=by, now=now, today=today)
    with transaction.atomic():
        closures = _close_work_of(rows, today=today)
        for row in rows:
            row.closure = closures.get(row.tree_id)
        audit.save_all(Verb.NOTE, rows, by=by, now=now)
    return rows


def _close_work_of(rows: Sequence[Watering], *, today: date) -> dict[int, Closure]:
    """Close the open watering work of trees, and return what closed each of them.

    One watering is the proof of one task: where a tree changed its place and has work
    of two kinds open, the less pressing falls away.
    """
    noted = {row.tree_id: row for row in rows}
    open_tasks = (
        Task.objects.open()
        .with_role(JobRole.WATERING)
        .filter(tree__in=noted, opens_on__lte=rows[0].given_on)
        .order_by("rank", "due_on", "id")
    )
    first: dict[int, Task] = {}
    second: list[Task] = []
    for task in open_tasks:
        assert task.tree_id is not None
        if first.setdefault(task.tree_id, task) is not task:
            second.append(task)
    closures = tasks.close_all(
        [
            tasks.Ending(
                task,
                row.by,
                row.received_at,
                row.given_on,
                evidence=_watered(row.litres, task.orchard),
            )
            for tree_id, task in first.items()
            for row in [noted[tree_id]]
        ],
        today=today,
    )
    tasks.fall_away_all(
        [(task, _("The tree was watered.")) for task in second],
        by=rows[0].by,
        now=rows[0].received_at,
        today=today,
    )
    return dict(zip(first, closures, strict=True))


def close_watering(
    task: Task,
    *,
    litres: float,
    by: User,
    now: datetime,
    today: date,
    done_on: date | None = None,
    evidence: str = "",
    photo: IO[bytes] | None = None,
    written_by: User | None = None,
    despite_hold: str = "",
) -> Closure:
    """Close a watering task with the litres each of its trees was given.

    They count as long as the work is not opened again. The work of a block waters its
    trees on a drip line.

    Raises:
        Refused (no_tree): no tree of the block is on a drip line.
        Refused: as closing a task and noting a watering say.
    """
    on = done_on or today
    # Asked first, for what is refused after the closing leaves the files of its photo.
    _check_litres(litres, task.orchard)
    trees = _watered_by(task, on)
    if not trees:
        raise Refused(
            _(
                "No tree of this block is on a drip line, so these litres belong to no "
                "tree. Leave them empty here and record a watering for each tree."
            ),
            code="no_tree",
            field="litres",
        )
    with audit.written_down_by(written_by), transaction.atomic():
        closure = tasks.close(
            task,
            by=by,
            now=now,
            today=today,
            done_on=on,
            evidence=_with_words(_watered(litres, task.orchard), evidence),
            photo=photo,
            written_by=written_by,
            despite_hold=despite_hold,
        )
        given = {"given_on": on, "closure": closure}
        rows = _waterings(trees, litres, given, by=by, now=now, today=today)
        audit.save_all(Verb.NOTE, rows, by=by, now=now)
    return closure


def _watered_by(task: Task, on: date) -> list[Tree]:
    """Return the trees that a task watered: its own, or those on the line that day."""
    if task.tree is not None:
        return [task.tree]
    trees = growing_in(task.block) if task.block is not None else []
    return [
        tree
        for tree in trees
        if tree.irrigated and (tree.planted_on is None or tree.planted_on <= on)
    ]


def _watered(litres: float, orchard: Orchard) -> str:
    amount = quantity(litres, "L", orchard.units)
    return _("Watered: %(amount)s") % {"amount": amount}


def _with_words(amount: str, words: str) -> str:
    return f"{amount}; {words}"[:500] if words.strip() else amount


def _waterings(
    trees: Iterable[Tree],
    litres: float | Mapping[int, float],
    given: Mapping[str, Any],
    *,
    by: User,
    now: datetime,
    today: date,
) -> list[Watering]:
    """Return checked waterings, not yet kept."""
    rows = [
        Watering(
            orchard=tree.orchard,
            tree=tree,
            litres=litres[tree.pk] if isinstance(litres, Mapping) else litres,
            by=by,
            received_at=now,
            **given,
        )
        for tree in trees
    ]
    for row in rows:
        _check(row, today)
    return rows


def measure_crown(
    tree: Tree,
    *,
    measured_on: date,
    width_m: float,
    by: User,
    now: datetime,
    today: date,
    height_m: float | None = None,
) -> Crown:
    """Note how wide (and high) a tree stands.

    Raises:
        Refused (no_tree): it grows no longer. wrong_day: in the future, or before it
            was planted.
        Refused (out_of_range): no width, or wider or higher than trees of an orchard
            get.
    """
    if tree.state != Tree.State.GROWING:
        raise Refused(
            _("%(code)s no longer grows here; there is nothing to measure.")
            % {"code": tree.code},
            code="no_tree",
        )
    row = Crown(
        orchard=tree.orchard,
        tree=tree,
        measured_on=measured_on,
        width_m=width_m,
        height_m=height_m,
        by=by,
        received_at=now,
    )
    _check(row, today)
    return audit.save(Verb.NOTE, row, by=by, now=now)


def correct_measurement(
    note: Noted, *, by: User, now: datetime, today: date, reason: str, **changes: Any
) -> Noted:
    """Put a newer note in place of one; the old one stays readable.

    The work that a watering closed was done on its day, with its litres.

    Raises:
        Refused (reason_missing): no reason is given. Others as for a new note.
        Refused (wrong_day): another day than the work was done on that it closed
            together with other trees, or a day before that work opened.
    """
    with transaction.atomic():
        old = corrections.lock_current(note, by)
        row = corrections.renewed(old, by=by, now=now, **changes)
        _check(row, today)
        newer = corrections.put_in_place(
            Verb.CORRECT, old, row, by=by, now=now, reason=reason
        )
        if isinstance(newer, Watering) and newer.closure_id is not None:
            closure = _lock_closure(newer.closure_id)
            _check_day_of_work(newer, closure)
            if not _others_watered(newer, closure).exists():
                words = closure.evidence.partition("; ")[2]
                _show_by(newer, closure, words=words, by=by, now=now)
        return newer


def withdraw_measurement(
    note: Noted, *, by: User, now: datetime, reason: str
) -> Withdrawal:
    """Withdraw a note that was wrong altogether, and reopen the work it closed.

    Work stays closed while litres of another tree stand that were given with it, while
    another watering of its one tree does it, and where its own rules keep it closed;
    the withdrawal then says so.

    Raises:
        Refused: as withdrawing any note.
    """
    with transaction.atomic():
        gone = corrections.withdraw(note, by=by, now=now, reason=reason)
        if not isinstance(gone, Watering) or gone.closure_id is None:
            return Withdrawal()
        closure = _lock_closure(gone.closure_id)
        if closure.undone_at is not None:
            return Withdrawal()
        if closure.waterings.current().exists():
            return Withdrawal(
                why_closed=_("Other trees were watered with the same task.")
            )
        other = _other_watering(closure.task)
        if other is not None:
            other.closure = closure
            audit.save_row(other, ["closure"])
            _show_by(other, closure, by=by, now=now)
            day = date_format(other.given_on, "j M Y")
            return Withdrawal(
                why_closed=_("The tree was watered on %(day)s as well.") % {"day": day}
            )
        try:
            return Withdrawal(tasks.reopen(closure.task, by=by, now=now))
        except Refused as refusal:
            return Withdrawal(why_closed=str(refusal))


def _lock_closure(number: int) -> Closure:
    """Return a closing with its work locked, so that two changes of it take turns."""
    task = Task.objects.select_for_update(of=("self",), no_key=True).get(
        closures=number
    )
    # Read after the lock: whoever held it may have opened the work again.
    return Closure.objects.select_related("task__orchard", "task__tree").get(
        pk=number, task=task
    )


def _others_watered(row: Watering, closure: Closure) -> QuerySet[Watering]:
    return closure.waterings.current().exclude(tree=row.tree)


def _check_day_of_work(row: Watering, closure: Closure) -> None:
    if row.given_on == closure.done_on:
        return
    if _others_watered(row, closure).exists():
        raise Refused(
            _(
                "Other trees were watered with the same task on %(day)s. Withdraw this "
                "watering, then record it again on its own day."
            )
            % {"day": date_format(closure.done_on, "j M Y")},
            code="wrong_day",
            field="given_on",
        )
    if row.given_on < closure.task.opens_on:
        raise Refused(
            _(
                "The task that this watering closed opened on %(day)s. Withdraw this "
                "watering, then record it again on its own day."
            )
            % {"day": date_format(closure.task.opens_on, "j M Y")},
            code="wrong_day",
            field="given_on",
        )


def _other_watering(task: Task) -> Watering | None:
    """Return the first watering that does the work of one tree and closed none."""
    if task.tree_id is None:
        return None
    rows = Watering.objects.current().filter(
        tree=task.tree_id, closure=None, given_on__gte=task.opens_on
    )
    return rows.order_by("given_on", "id").first()


def _show_by(
    row: Watering, closure: Closure, *, by: User, now: datetime, words: str = ""
) -> None:
    """Let a closing say the day and the litres of the watering that shows it."""
    task, fields = closure.task, ("done_on", "evidence")
    before = audit.snapshot(closure, *fields)
    closure.done_on = row.given_on
    closure.evidence = _with_words(_watered(row.litres, task.orchard), words)
    after = audit.snapshot(closure, *fields)
    if after == before:
        return
    audit.save_row(closure, fields)
    audit.write(
        Verb.CORRECT,
        task,
        by=by,
        now=now,
        orchard=task.orchard,
        tree=task.tree,
        before=before,
        after=after,
        private=task.private,
    )


def _check_litres(litres: float, orchard: Orchard) -> None:
    least, most = limits("litres")
    if not least < litres <= most:
        raise Refused(
            _("Enter the water for one tree: above 0, up to %(most)s.")
            % {"most": quantity(most, "L", orchard.units)},
            code="out_of_range",
            field="litres",
        )


def _check(row: Crown | Watering, today: date) -> None:
    if isinstance(row, Watering):
        corrections.check_day(row.tree, row.given_on, field="given_on", today=today)
        _check_litres(row.litres, row.orchard)
        return
    corrections.check_day(row.tree, row.measured_on, field="measured_on", today=today)
    least, most = limits("crown_width_m")
    if not least < row.width_m <= most:
        raise Refused(
            _("Enter the width of the crown: above 0, up to %(most)s.")
            % {"most": quantity(most, "m", row.orchard.units)},
            code="out_of_range",
            field="width_m",
        )
    least, most = limits("tree_height_m")
    if row.height_m is not None and not least < row.height_m <= most:
        raise Refused(
            _("Enter the height of the tree: above 0, up to %(most)s.")
            % {"most": quantity(most, "m", row.orchard.units)},
            code="out_of_range",
            field="height_m",
        )
