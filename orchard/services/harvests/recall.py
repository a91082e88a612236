"""Lots called back: forward to everybody who got some, back to all that was put on."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import (
    Harvest,
    HarvestedTree,
    HarvestShare,
    Orchard,
    Recall,
    RecallCall,
    TreatedTree,
    Treatment,
    Tree,
    User,
)
from orchard.services import audit, tasks
from orchard.services.audit import Verb
from orchard.services.errors import Refused, require_reason
from orchard.services.harvests.checks import RECALLED
from orchard.services.harvests.shares import Use

# What somebody may have eaten, or still has at home.
EATEN = frozenset({Use.GIVEN_AWAY, Use.TASTING, Use.SHOW, Use.VOLUNTEERS})


@dataclass(frozen=True, slots=True)
class CallLine:
    """Somebody who got some of what is called back, and what they answered."""

    share: HarvestShare
    calls: tuple[RecallCall, ...]

    @property
    def is_answered(self) -> bool:
        return any(call.is_answered for call in self.calls)


@dataclass(frozen=True, slots=True)
class TreeTrace:
    """A tree of a lot that is called back, and all that was put on it before."""

    tree: Tree
    lots: tuple[Harvest, ...]
    treatments: tuple[Treatment, ...]


@dataclass(frozen=True, slots=True)
class RecallPicture:
    """A recall whole: its lots, whom to call, where else it went, what was put on."""

    recall: Recall
    lots: tuple[Harvest, ...]
    calls: tuple[CallLine, ...]
    elsewhere: tuple[HarvestShare, ...]
    trees: tuple[TreeTrace, ...]

    @property
    def unanswered(self) -> int:
        return sum(not line.is_answered for line in self.calls)


def open_recall(
    orchard: Orchard,
    *,
    because: str,
    by: User,
    now: datetime,
    today: date,
    harvest: Harvest | None = None,
    treatment: Treatment | None = None,
) -> Recall:
    """Call back a lot, or all lots picked of the trees of a treatment since it began.

    Nothing more of them is given away. It closes when all who got some have answered.

    Raises:
        Refused (reason_missing): it does not say why. already_open: it is called back
            already. no_lot: nothing was picked of those trees since.
    """
    because = require_reason(because)
    with transaction.atomic():
        Orchard.objects.select_for_update(no_key=True).get(pk=orchard.pk)
        open_ones = Recall.objects.filter(orchard=orchard, closed_at=None)
        same = (
            open_ones.filter(harvest__lot=harvest.lot)
            if harvest is not None
            else open_ones.filter(treatment=treatment)
        )
        if same.exists():
            raise Refused(
                _("It is called back already. Go on with that recall."),
                code="already_open",
            )
        recall = Recall(
            orchard=orchard,
            harvest=harvest,
            treatment=treatment,
            because=because,
            opened_at=now,
            opened_by=by,
        )
        lots = lots_called_back(recall)
        if not lots:
            raise Refused(
                _("Nothing was picked of these trees since then."), code="no_lot"
            )
        audit.save(Verb.OPEN, recall, by=by, now=now)
        for lot in lots:
            _keep_back(lot, because, by=by, now=now)
        if not _close_if_answered(recall, by=by, now=now):
            tasks.ask_coordinator(
                orchard,
                title=_("Call everybody who got fruit that is called back"),
                steps=[because, _("Open the recall and note each answer there.")],
                subject=_subject_of(recall),
                due_on=today,
                by=by,
                now=now,
                today=today,
            )
    return recall


def _keep_back(lot: Harvest, because: str, *, by: User, now: datetime) -> None:
    columns = ["breaches", "is_blocked"]
    before = audit.snapshot(lot, *columns)
    words = _("It is called back: %(because)s") % {"because": because}
    lot.breaches = [*lot.breaches, [RECALLED, words]]
    lot.is_blocked = True
    audit.save(Verb.SET, lot, by=by, now=now, fields=columns, before=before)


def note_call(
    recall: Recall,
    share: HarvestShare,
    *,
    is_answered: bool,
    by: User,
    now: datetime,
    words: str = "",
) -> RecallCall:
    """Note that somebody was called, and what they answered; the last one closes it.

    Raises:
        Refused (already_closed): all have answered. not_in_recall: this went elsewhere.
    """
    with transaction.atomic():
        locked = Recall.objects.select_for_update(of=("self",), no_key=True).get(
            pk=recall.pk
        )
        if locked.closed_at is not None:
            raise Refused(
                _("All have answered: this recall is closed."), code="already_closed"
            )
        if share not in [line.share for line in call_list(locked)]:
            raise Refused(
                _("That is no part of this recall, or was corrected since."),
                code="not_in_recall",
            )
        call = RecallCall(
            recall=locked,
            share=share,
            called_at=now,
            is_answered=is_answered,
            words=words.strip(),
            by=by,
        )
        audit.save(Verb.NOTE, call, by=by, now=now, fields=("is_answered", "words"))
        _close_if_answered(locked, by=by, now=now)
        recall.closed_at, recall.closed_by = locked.closed_at, locked.closed_by
    return call


def _close_if_answered(recall: Recall, *, by: User, now: datetime) -> bool:
    """Close a recall and its task once all have answered; tell whether it is closed."""
    if not all(line.is_answered for line in call_list(recall)):
        return False
    recall.closed_at, recall.closed_by = now, by
    columns = ["closed_at", "closed_by"]
    audit.save(Verb.CLOSE, recall, by=by, now=now, fields=columns)
    orchard = recall.orchard
    for task in tasks.asked_about(orchard, _subject_of(recall)):
        tasks.close(
            task,
            by=by,
            now=now,
            today=day_in(now, orchard.time_zone),
            evidence=_("All who got some have answered."),
        )
    return True


def _subject_of(recall: Recall) -> str:
    what = recall.harvest.lot if recall.harvest else recall.pk
    return f"recall:{what}:{recall.because}"


def lots_called_back(recall: Recall) -> list[Harvest]:
    """List the lots of a recall: its own, or all picked since the treatment began."""
    rows = Harvest.objects.in_orchard(recall.orchard).current()
    if recall.harvest is not None:
        rows = rows.filter(lot=recall.harvest.lot)
    elif recall.treatment is not None:
        trees = recall.treatment.reached.values("tree")
        rows = rows.filter(
            pk__in=HarvestedTree.objects.filter(tree__in=trees).values("harvest"),
            picked_at__gte=recall.treatment.started_at,
        )
    return list(rows.select_related("orchard", "by").order_by("picked_at", "id"))


def call_list(recall: Recall) -> list[CallLine]:
    """List everybody who got some of it, each with the calls made so far."""
    calls: dict[int, list[RecallCall]] = defaultdict(list)
    for call in RecallCall.objects.filter(recall=recall).order_by("called_at", "id"):
        calls[call.share_id].append(call)
    return [
        CallLine(share, tuple(calls[share.pk]))
        for share in _shares(recall)
        if share.use in EATEN
    ]


def _shares(recall: Recall) -> list[HarvestShare]:
    lots = [lot.lot for lot in lots_called_back(recall)]
    rows = HarvestShare.objects.in_orchard(recall.orchard).current()
    rows = rows.filter(harvest__lot__in=lots).select_related("harvest__orchard", "by")
    return list(rows.order_by("given_on", "id"))


def recall_picture(recall: Recall) -> RecallPicture:
    """Return all of a recall: one step forward to receivers, and back to the trees."""
    lots = lots_called_back(recall)
    return RecallPicture(
        recall,
        tuple(lots),
        tuple(call_list(recall)),
        tuple(share for share in _shares(recall) if share.use not in EATEN),
        tuple(_traces(lots)),
    )


def _traces(lots: list[Harvest]) -> list[TreeTrace]:
    """Trace each tree back to every treatment and manure before its last pick."""
    rows = HarvestedTree.objects.filter(harvest__in=lots)
    trees: dict[int, Tree] = {}
    picked: dict[int, list[Harvest]] = defaultdict(list)
    by_number = {lot.pk: lot for lot in lots}
    for row in rows.select_related("tree__kind").order_by("tree__code", "id"):
        trees[row.tree_id] = row.tree
        picked[row.tree_id].append(by_number[row.harvest_id])
    reached = TreatedTree.objects.filter(tree__in=trees, counts=True)
    put_on: dict[int, list[Treatment]] = defaultdict(list)
    for each in reached.select_related("treatment").order_by(
        "-treatment__ended_at", "id"
    ):
        last = max(lot.picked_at for lot in picked[each.tree_id])
        if each.treatment.started_at <= last:
            put_on[each.tree_id].append(each.treatment)
    return [
        TreeTrace(tree, tuple(picked[number]), tuple(put_on[number]))
        for number, tree in trees.items()
    ]


def recalls_of(orchard: Orchard) -> list[Recall]:
    """List the recalls of an orchard, the newest first."""
    rows = Recall.objects.filter(orchard=orchard)
    rows = rows.select_related("harvest", "treatment", "opened_by", "closed_by")
    return list(rows.order_by("-opened_at", "-id"))
