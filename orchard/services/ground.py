"""The ground: soil set, crowns measured, waterings noted, horizons surveyed.

Each note can be corrected or withdrawn with a reason; what was noted stays readable.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any, TypeVar

from django.db import transaction
from django.utils.formats import number_format
from django.utils.translation import gettext as _

from orchard.records.models import (
    Block,
    Crown,
    Horizon,
    Orchard,
    Soil,
    Spot,
    Task,
    Tree,
    User,
    Watering,
)
from orchard.services import ledger, noted, work
from orchard.services.noted import NotCurrent, NotYours, SaysNothing, WrongDay, withdraw
from orchard.services.refusal import Refused

__all__ = [
    "CannotBe",
    "NoTree",
    "NotCurrent",
    "NotYours",
    "SaysNothing",
    "WrongDay",
    "correct",
    "growing_in",
    "measure_crown",
    "note_watering",
    "set_soil",
    "soil_of",
    "survey",
    "withdraw",
]

Noted = TypeVar("Noted", Crown, Watering, Horizon)
# Watering closes whichever of these is open on the tree.
WATER_JOBS = ("job:water_ground", "job:water_pot", "job:water_new")
FEWEST_DIRECTIONS = 4


class CannotBe(Refused):
    """The figure lies outside what can be."""


class NoTree(Refused):
    """There is no growing tree to note this on."""


def set_soil(
    orchard: Orchard, *, sort: str, cover: str, by: User, now: datetime
) -> Soil:
    """Say what the ground is like from now on; earlier words stay readable."""
    with transaction.atomic():
        before = soil_of(orchard)
        row = Soil(orchard=orchard, sort=sort, cover=cover, by=by, set_at=now)
        row.full_clean()
        row.save()
        ledger.write(
            "set",
            row,
            by=by,
            now=now,
            orchard=orchard,
            before=ledger.snapshot(before, "sort", "cover") if before else None,
            after=ledger.snapshot(row, "sort", "cover"),
        )
        return row


def soil_of(orchard: Orchard) -> Soil | None:
    """Return what the ground of an orchard was last said to be like."""
    newest: Soil | None = Soil.objects.filter(orchard=orchard).order_by("-id").first()
    return newest


def growing_in(block: Block) -> list[Tree]:
    """List the growing trees of a block, in walking order."""
    trees = Tree.objects.filter(spot__block=block).looked_after()
    return list(trees.select_related("orchard").in_walking_order())


def note_watering(
    trees: Iterable[Tree],
    *,
    given_on: date,
    litres: float,
    by: User,
    now: datetime,
    today: date,
    note: str = "",
) -> list[Watering]:
    """Note water given to each of some trees, and close the work it does.

    Raises:
        NoTree: none of them grows. WrongDay: in the future, or a tree was not here.
        CannotBe: no water, or more than a tree is ever given.
    """
    chosen = [tree for tree in trees if tree.state == Tree.State.GROWING]
    if not chosen:
        raise NoTree(_("No tree grows there. Choose a tree or a block with trees."))
    with transaction.atomic():
        rows = [
            Watering(
                orchard=tree.orchard,
                tree=tree,
                given_on=given_on,
                litres=litres,
                note=note.strip(),
                by=by,
                received_at=now,
            )
            for tree in chosen
        ]
        for row in rows:
            _check(row, today)
        kept = [noted.keep("note", row, by=by, now=now) for row in rows]
        _close_watering(chosen, rows[0], by=by, now=now, today=today)
        return kept


def _close_watering(
    trees: Sequence[Tree], row: Watering, *, by: User, now: datetime, today: date
) -> None:
    open_tasks = Task.objects.open().filter(
        tree__in=trees, what__in=WATER_JOBS, opens_on__lte=row.given_on
    )
    amount = number_format(round(row.litres, 1), decimal_pos=1)
    for task in open_tasks.select_related("tree", "orchard").order_by("id"):
        work.close(
            task,
            by=by,
            now=now,
            today=today,
            done_on=row.given_on,
            evidence=_("Watered: %(litres)s L") % {"litres": amount},
        )


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
        NoTree: it grows no longer. WrongDay: in the future, or before it was planted.
        CannotBe: no width, or wider or higher than trees of an orchard get.
    """
    if tree.state != Tree.State.GROWING:
        raise NoTree(
            _("%(code)s no longer grows here; there is nothing to measure.")
            % {"code": tree.code}
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
        return noted.keep("note", row, by=by, now=now)


def survey(
    spot: Spot,
    *,
    surveyed_on: date,
    points: Iterable[tuple[float, float]],
    by: User,
    now: datetime,
    today: date,
    declination: float = 0.0,
    how: str = Horizon.How.TYPED,
    note: str = "",
) -> Horizon:
    """Note what hides the sky all around a spot.

    `points` are (direction, angle) in degrees as the compass and the eye gave them;
    the declination is added to each direction before it is stored.

    Raises:
        CannotBe: fewer than four directions, or an angle that cannot be.
        WrongDay: in the future.
    """
    taken = sorted(
        ((float(direction) + declination) % 360.0, float(angle))
        for direction, angle in points
    )
    row = Horizon(
        orchard=spot.block.orchard,
        spot=spot,
        surveyed_on=surveyed_on,
        points=[[round(direction, 1), round(angle, 1)] for direction, angle in taken],
        declination=declination,
        how=how,
        note=note.strip(),
        by=by,
        received_at=now,
    )
    with transaction.atomic():
        _check(row, today)
        return noted.keep("note", row, by=by, now=now)


def correct(
    note: Noted, *, by: User, now: datetime, today: date, reason: str, **changes: Any
) -> Noted:
    """Put a newer note in place of one; the old one stays readable.

    Raises:
        SaysNothing: no reason is given. Others as for a new note.
    """
    with transaction.atomic():
        old = noted.hold(note, by)
        row = noted.renewed(old, by=by, now=now, **changes)
        _check(row, today)
        return noted.put_in_place("correct", old, row, by=by, now=now, reason=reason)


def _check(row: Crown | Watering | Horizon, today: date) -> None:
    if isinstance(row, Watering):
        noted.check_day(row.tree, row.given_on, field="given_on", today=today)
        if not 0 < row.litres <= 5000:
            raise CannotBe(
                _("Give the litres for one tree: more than 0, at most 5,000."),
                field="litres",
            )
        return
    if isinstance(row, Crown):
        noted.check_day(row.tree, row.measured_on, field="measured_on", today=today)
        if not 0 < row.width_m <= 20:
            raise CannotBe(
                _("Give the width of the crown: more than 0, at most 20 m."),
                field="width_m",
            )
        if row.height_m is not None and not 0 < row.height_m <= 30:
            raise CannotBe(
                _("Give the height of the tree: more than 0, at most 30 m."),
                field="height_m",
            )
        return
    noted.check_day(None, row.surveyed_on, field="surveyed_on", today=today)
    if len(row.points) < FEWEST_DIRECTIONS:
        raise CannotBe(
            _("Measure at least four directions, best all sixteen, then save.")
        )
    if any(not 0 <= angle <= 90 for _direction, angle in row.points):
        raise CannotBe(
            _("An angle lies between 0 (level) and 90 degrees (straight up).")
        )
    if not -60 <= row.declination <= 60:
        raise CannotBe(
            _("The declination lies between -60 and 60 degrees."), field="declination"
        )
