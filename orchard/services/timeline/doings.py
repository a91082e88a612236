"""What was done at a tree and what befell it: work, events, its own life."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import (
    Closure,
    Happening,
    HarvestedTree,
    LeafTest,
    ProductUse,
    RipenessTest,
    Stay,
    Task,
    Treatment,
    Tree,
)
from orchard.science import events, guide
from orchard.science.events import EventKind
from orchard.science.ripeness import Readiness
from orchard.science.units import in_text
from orchard.science.words import Lane, Picked, TreatmentKind
from orchard.services import fruit
from orchard.services.quantities import quantity
from orchard.services.timeline.looks import (
    CORRECTED,
    Row,
    in_its_time,
    is_open_to,
    standing_or_withdrawn,
    undone_text,
)
from orchard.services.timeline.shapes import (
    DayMoment,
    Event,
    Mark,
    Rank,
    Scope,
    end_of,
    start_of,
)


@dataclass(frozen=True, slots=True)
class Kin:
    """The trees before and after this one in its spot."""

    before: str = ""
    after: str = ""
    after_id: int = 0
    after_planted_on: date | None = None
    after_precision: str = ""


def closures(scope: Scope) -> list[Event]:
    """Return how work on the tree ended; undone endings only when asked for."""
    # Open and closed tasks lie in two partial indexes: each must be asked by its own
    # condition, else every closure of every orchard is read.
    wanted = Closure.objects.filter(scope.days("done_on", Rank.WORK))
    undone_by: tuple[str, ...] = ()
    if scope.undone:
        of_tree = Task.objects.filter(tree_id=scope.tree.pk).values("pk")
        closed, opened = of_tree.exclude(closed_at=None), of_tree.filter(closed_at=None)
        wanted = wanted.filter(task_id__in=closed.union(opened, all=True))
        undone_by = ("undone_by__name",)
    else:
        # One table less to join: with each, planning takes longer than reading.
        wanted = wanted.filter(
            undone_at=None, task__tree=scope.tree.pk, task__closed_at__isnull=False
        )
    if not scope.sees_private:
        wanted = wanted.filter(task__private=False)
    rows = wanted.order_by("-done_on", "-id").values(
        "id",
        "how",
        "done_on",
        "closed_at",
        "reason",
        "evidence",
        "by_id",
        "by__name",
        "written_by__name",
        "undone_at",
        *undone_by,
        "task_id",
        "task__title",
        "task__private",
        "inspection_id",
        "task__finding__inspection__has_private",
        "task__finding__inspection__by_id",
    )[: scope.size]
    return [_closure(scope, dict(row)) for row in rows]


def _closure(scope: Scope, row: Row) -> Event:
    titles = {
        Closure.How.DONE: _("Done: %(title)s"),
        Closure.How.SKIPPED: _("Skipped: %(title)s"),
        Closure.How.CANCELLED: _("Cancelled: %(title)s"),
    }
    done = row["how"] == Closure.How.DONE
    undone = ""
    if row["undone_at"]:
        undone = _("Undone by %(name)s") % {"name": row["undone_by__name"] or "?"}
    # Work that fell away with a private look carries the reason of that look.
    reason_hidden = row["task__finding__inspection__has_private"] and not is_open_to(
        scope, row["task__finding__inspection__by_id"]
    )
    reason = "" if reason_hidden else row["reason"]
    recorded_on = row["closed_at"].astimezone(scope.zone).date()
    return Event(
        mark=Mark(end_of(row["done_on"], scope.zone), Rank.WORK, row["id"]),
        on=row["done_on"],
        lane=Lane.WORK,
        title=titles[Closure.How(row["how"])] % {"title": row["task__title"]},
        by_id=row["by_id"],
        by=row["by__name"] or "",
        written_by=row["written_by__name"] or "",
        note=row["evidence"] if done else reason,
        days_late=max(0, (recorded_on - row["done_on"]).days),
        unproven=done and not row["evidence"] and row["inspection_id"] is None,
        private=row["task__private"],
        target=("task", row["task_id"]),
        undone=undone,
    )


def ripeness_tests(scope: Scope) -> list[Event]:
    """Return the tests of this tree's own fruit."""
    rows = (
        RipenessTest.objects.filter(
            standing_or_withdrawn(scope),
            scope.days("tested_on", Rank.TESTED),
            tree_id=scope.tree.pk,
        )
        .select_related("orchard", "tree__kind", "by", "written_by")
        .order_by("-tested_on", "-id")[: scope.size]
    )
    return [_tested(scope, row) for row in rows]


def _tested(scope: Scope, row: RipenessTest) -> Event:
    answer = fruit.read_test(row).answer.readiness
    titles = {
        Readiness.READY: _("Fruit tested: ready to pick"),
        Readiness.NOT_MEASURED: _("Fruit tested: taste fine, not measured"),
        Readiness.NOT_YET: _("Fruit tested: not ready"),
        Readiness.UNDECIDED: _("Fruit tested"),
    }
    undone = undone_text(
        {"withdrawn_at": row.withdrawn_at, "withdrawn_reason": row.withdrawn_reason}
    )
    return Event(
        mark=Mark(end_of(row.tested_on, scope.zone), Rank.TESTED, row.pk),
        on=row.tested_on,
        lane=Lane.WORK,
        title=titles[answer],
        note=row.note,
        by_id=row.by_id,
        by=row.by.name,
        written_by=row.written_by.name if row.written_by else "",
        target=None if row.withdrawn_at else ("ripeness", row.pk),
        old=row.corrects_id,
        correction_reason=row.correction_reason,
        undone=undone,
    )


def leaf_tests(scope: Scope) -> list[Event]:
    """Return what a laboratory found in this tree's own leaves."""
    rows = (
        LeafTest.objects.filter(
            standing_or_withdrawn(scope),
            scope.days("taken_on", Rank.LEAVES),
            tree_id=scope.tree.pk,
        )
        .select_related("by")
        .order_by("-taken_on", "-id")[: scope.size]
    )
    return [
        Event(
            mark=Mark(end_of(row.taken_on, scope.zone), Rank.LEAVES, row.pk),
            on=row.taken_on,
            lane=Lane.WORK,
            title=_("Leaf analysis"),
            note=row.note,
            by_id=row.by_id,
            by=row.by.name,
            target=("leaves", row.pk),
            old=row.corrects_id,
            correction_reason=row.correction_reason,
            undone=undone_text(
                {
                    "withdrawn_at": row.withdrawn_at,
                    "withdrawn_reason": row.withdrawn_reason,
                }
            ),
        )
        for row in rows
    ]


def treatments(scope: Scope) -> list[Event]:
    """Return what was put on the tree or its ground, or reached it by drift."""
    rows = (
        Treatment.objects.filter(
            standing_or_withdrawn(scope),
            scope.moments("ended_at", Rank.TREATED),
            reached__tree=scope.tree.pk,
            is_plan=False,
        )
        .select_related("by", "written_by")
        .order_by("-ended_at", "-id")[: scope.size]
    )
    found = list(rows)
    if not found:
        return []
    names: dict[int, list[str]] = {}
    uses = ProductUse.objects.filter(treatment__in=[row.pk for row in found])
    for number, name in uses.order_by("id").values_list(
        "treatment_id", "product__name"
    ):
        names.setdefault(number, []).append(name)
    return [_treated(scope, row, names.get(row.pk, [])) for row in found]


def _treated(scope: Scope, row: Treatment, products: list[str]) -> Event:
    undone = undone_text(
        {"withdrawn_at": row.withdrawn_at, "withdrawn_reason": row.withdrawn_reason}
    )
    return Event(
        mark=Mark(row.ended_at, Rank.TREATED, row.pk),
        on=row.ended_at.astimezone(scope.zone).date(),
        at=row.ended_at,
        lane=Lane.WORK,
        title=guide.load().treatments[TreatmentKind(row.kind)].name,
        note=", ".join(products) or row.note,
        by_id=row.by_id,
        by=row.by.name,
        written_by=row.written_by.name if row.written_by else "",
        target=("treatment", row.pk),
        old=row.corrects_id,
        correction_reason=row.correction_reason,
        undone=undone,
    )


def picks(scope: Scope) -> list[Event]:
    """Return what was picked of this tree, with its part of each lot."""
    wanted = Q(harvest__superseded_at=None)
    if not scope.undone:
        wanted &= Q(harvest__withdrawn_at=None)
    rows = HarvestedTree.objects.filter(
        wanted,
        scope.moments("harvest__picked_at", Rank.PICKED),
        tree_id=scope.tree.pk,
    ).select_related("harvest__by", "harvest__written_by")
    return [
        _picked(scope, row)
        for row in rows.order_by("-harvest__picked_at", "-id")[: scope.size]
    ]


def _picked(scope: Scope, row: HarvestedTree) -> Event:
    lot = row.harvest
    amounts = []
    if row.kg is not None:
        amounts.append(quantity(row.kg, "kg", scope.tree.orchard.units))
    if row.count is not None:
        amounts.append(
            ngettext("%(count)d piece", "%(count)d pieces", row.count)
            % {"count": row.count}
        )
    titles = {
        Picked.FRUIT: _("Fruit picked: %(amount)s"),
        Picked.LEAF: _("Leaves picked: %(amount)s"),
        Picked.FLOWER: _("Flowers picked: %(amount)s"),
    }
    return Event(
        mark=Mark(lot.picked_at, Rank.PICKED, row.pk),
        on=lot.picked_at.astimezone(scope.zone).date(),
        lane=Lane.WORK,
        title=titles[Picked(lot.part)] % {"amount": ", ".join(amounts)},
        at=lot.picked_at,
        note=f"{lot.lot}. {lot.note}" if lot.note else lot.lot,
        by_id=lot.by_id,
        by=lot.by.name,
        written_by=lot.written_by.name if lot.written_by else "",
        target=("harvest", lot.pk),
        old=lot.corrects_id,
        correction_reason=lot.correction_reason,
        undone=undone_text(
            {"withdrawn_at": lot.withdrawn_at, "withdrawn_reason": lot.withdrawn_reason}
        ),
    )


def happenings(scope: Scope, lanes: Collection[Lane]) -> list[Event]:
    """Return events of the tree, and those of the whole orchard in its time."""
    of_orchard = Q(tree=None) & in_its_time(scope, "happened_on")
    wanted = Happening.objects.filter(
        Q(tree_id=scope.tree.pk) | of_orchard,
        standing_or_withdrawn(scope),
        scope.days("happened_on", Rank.HAPPENING),
        orchard_id=scope.tree.orchard_id,
        what__in=events.kinds_in(lanes),
    )
    rows = wanted.order_by("-happened_on", "-id").values(
        "id", "what", "happened_on", "note", "tree_id", "by_id", "by__name", *CORRECTED
    )[: scope.size]
    return [_happening(scope, row) for row in rows]


def _happening(scope: Scope, row: Row) -> Event:
    kind = EventKind(row["what"])
    title = capfirst(in_text(kind.label, scope.tree.orchard.units))
    if row["tree_id"] is None:
        title = _("%(what)s, whole orchard") % {"what": title}
    return Event(
        mark=Mark(end_of(row["happened_on"], scope.zone), Rank.HAPPENING, row["id"]),
        on=row["happened_on"],
        lane=kind.lane,
        title=title,
        note=row["note"],
        by_id=row["by_id"],
        by=row["by__name"],
        target=None if row["withdrawn_at"] else ("event", row["id"]),
        old=row["corrects_id"],
        correction_reason=row["correction_reason"],
        undone=undone_text(row),
    )


def life(scope: Scope, stays: Sequence[Stay], kin: Kin) -> list[Event]:
    """Return the turns of the tree's own life, from grafting to removal.

    There are only a few of them to a tree, so they are made whole and then chosen.
    """
    tree = scope.tree
    made = [
        _turn(
            scope,
            tree.born_on,
            Rank.BORN,
            tree.pk,
            _("Grafted or sown"),
            start_of,
            year_only=tree.born_precision == Tree.Precision.YEAR,
        ),
        _turn(
            scope,
            tree.planted_on,
            Rank.PLANTED,
            tree.pk,
            _("Planted in %(spot)s") % {"spot": stays[0].spot if stays else tree.spot},
            start_of,
            note=_("In the place of %(code)s") % {"code": kin.before}
            if kin.before
            else "",
            target=("tree", kin.before) if kin.before else None,
            year_only=tree.planted_precision == Tree.Precision.YEAR,
        ),
        _turn(
            scope,
            tree.scion_died_on,
            Rank.SCION_DIED,
            tree.pk,
            _("The cultivar died; only the rootstock is alive"),
        ),
        _turn(scope, tree.died_on, Rank.DIED, tree.pk, _("Died")),
        _turn(
            scope,
            tree.removed_on,
            Rank.REMOVED,
            tree.pk,
            _("Removed"),
            note=tree.removal_reason,
        ),
        _turn(
            scope,
            kin.after_planted_on,
            Rank.REPLACED,
            kin.after_id,
            _("Replaced by %(code)s") % {"code": kin.after},
            target=("tree", kin.after),
            year_only=kin.after_precision == Tree.Precision.YEAR,
        ),
    ]
    for here, there in zip(stays, stays[1:], strict=False):
        places = {"here": here.spot, "there": there.spot}
        made.append(
            _turn(
                scope,
                there.since_on,
                Rank.MOVED,
                there.pk,
                _("Moved from %(here)s to %(there)s") % places,
                start_of,
                note=there.reason or here.reason,
            )
        )
    return [event for event in made if event is not None and scope.holds(event)]


def _turn(
    scope: Scope,
    on: date | None,
    rank: Rank,
    number: int,
    title: str,
    moment: DayMoment = end_of,
    **more: Any,
) -> Event | None:
    if on is None:
        return None
    return Event(
        mark=Mark(moment(on, scope.zone), rank, number),
        on=on,
        lane=Lane.LIFE,
        title=title,
        **more,
    )
