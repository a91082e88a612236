"""The ground: soil set, crowns measured, waterings noted.

Each note can be corrected or withdrawn with a reason; what was noted stays readable.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import IO, Any, TypeVar

from django.db import transaction
from django.db.models import QuerySet
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
                _("Give the depth of the roots: more than 0, at most %(most)s.")
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
    with transaction.atomic():
        rows = _enter(chosen, litres, given, by=by, now=now, today=today)
        open_tasks = (
            Task.objects.open()
            .with_role(JobRole.WATERING)
            .filter(tree__in=chosen, opens_on__lte=given_on)
        )
        poured = {row.tree_id: row.litres for row in rows}
        tasks.close_all(
            [
                tasks.Ending(
                    task,
                    by,
                    now,
                    given_on,
                    evidence=_watered(poured[task.tree_id], task.orchard),
                )
                for task in open_tasks.order_by("id")
                if task.tree_id is not None
            ],
            today=today,
        )
        return rows


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
) -> Closure:
    """Close a watering task with the litres each of its trees was given.

    They count as long as the work is not opened again.

    Raises:
        Refused: as closing a task and noting a watering say.
    """
    on = done_on or today
    # Asked first, for what is refused after the closing leaves the files of its photo.
    _check_litres(litres, task.orchard)
    with transaction.atomic():
        closure = tasks.close(
            task,
            by=by,
            now=now,
            today=today,
            done_on=on,
            evidence=_with_words(_watered(litres, task.orchard), evidence),
            photo=photo,
        )
        given = {"given_on": on, "closure": closure}
        _enter(_watered_by(task, on), litres, given, by=by, now=now, today=today)
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


def _enter(
    trees: Iterable[Tree],
    litres: float | Mapping[int, float],
    given: Mapping[str, Any],
    *,
    by: User,
    now: datetime,
    today: date,
) -> list[Watering]:
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
    audit.save_all(Verb.NOTE, rows, by=by, now=now)
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
    with transaction.atomic():
        _check(row, today)
        return audit.save(Verb.NOTE, row, by=by, now=now)


def correct_measurement(
    note: Noted, *, by: User, now: datetime, today: date, reason: str, **changes: Any
) -> Noted:
    """Put a newer note in place of one; the old one stays readable.

    Raises:
        Refused (reason_missing): no reason is given. Others as for a new note.
    """
    with transaction.atomic():
        old = corrections.lock_current(note, by)
        row = corrections.renewed(old, by=by, now=now, **changes)
        _check(row, today)
        return corrections.put_in_place(
            Verb.CORRECT, old, row, by=by, now=now, reason=reason
        )


def _check_litres(litres: float, orchard: Orchard) -> None:
    least, most = limits("litres")
    if not least < litres <= most:
        raise Refused(
            _("Give the water for one tree: more than 0, at most %(most)s.")
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
            _("Give the width of the crown: more than 0, at most %(most)s.")
            % {"most": quantity(most, "m", row.orchard.units)},
            code="out_of_range",
            field="width_m",
        )
    least, most = limits("tree_height_m")
    if row.height_m is not None and not least < row.height_m <= most:
        raise Refused(
            _("Give the height of the tree: more than 0, at most %(most)s.")
            % {"most": quantity(most, "m", row.orchard.units)},
            code="out_of_range",
            field="height_m",
        )
