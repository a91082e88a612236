"""What happens to a tree after planting: moved, top died, died, removed, replaced."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from orchard.records.models import Kind, Spot, Stay, Tree, User
from orchard.services import audit, tasks
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.partial_days import when_planted, write_when
from orchard.services.trees import tags
from orchard.services.trees.planting import plant, refuse_occupied, refuse_strangers
from orchard.services.trees.saving import past_day, reason_in

State = Tree.State
LIFE = (
    "state",
    "spot_id",
    "scion_died_on",
    "died_on",
    "removed_on",
    "removal_reason",
)


@transaction.atomic
def move(
    tree: Tree,
    *,
    by: User,
    now: datetime,
    today: date,
    spot: Spot,
    on: date,
    reason: str,
) -> Tree:
    """Move a standing tree to a free spot; its story goes with it.

    Raises:
        Refused (not_standing), nothing_changed, spot_taken, wrong_orchard,
            reason_missing, bad_date.
    """
    refuse_removed(tree)
    reason = reason_in(reason)
    refuse_strangers(tree.orchard, spot=spot, kind=tree.kind)
    if spot.pk == tree.spot_id:
        raise Refused(
            _("The tree is in spot %(spot)s already.") % {"spot": spot},
            code="nothing_changed",
            field="spot",
        )
    refuse_occupied(spot, but=tree)
    _day_of(tree, on, today=today)
    before = audit.snapshot(tree, "spot_id")
    stay = tree.stays.filter(ended=False).order_by("id").last()
    if stay is not None:
        stay.ended, stay.until_on = True, on
        audit.save_row(stay)
    tree.spot = spot
    Stay.objects.create(tree=tree, spot=spot, since_on=on, reason=reason)
    _save(Verb.MOVE, tree, by=by, now=now, before=before, reason=reason, on=on)
    return tree


@transaction.atomic
def scion_died(
    tree: Tree, *, by: User, now: datetime, today: date, on: date, reason: str
) -> Tree:
    """Note that only the rootstock lives: no verdicts and no new jobs from here on."""
    refuse_removed(tree)
    if tree.state != State.GROWING:
        raise Refused(
            _("%(code)s is %(state)s already.")
            % {"code": tree.code, "state": tree.get_state_display()},
            code="nothing_changed",
        )
    if tree.own_roots:
        raise Refused(
            _(
                "%(code)s grows on its own roots: it has no rootstock that could "
                "survive."
            )
            % {"code": tree.code},
            code="nothing_changed",
        )
    reason = reason_in(reason)
    _day_of(tree, on, today=today)
    before = audit.snapshot(tree, *LIFE)
    tree.state, tree.scion_died_on = State.ROOTSTOCK_ONLY, on
    _save(Verb.SCION_DIED, tree, by=by, now=now, before=before, reason=reason, on=on)
    tasks.cancel_all(tree, by=by, now=now, today=today, reason=_("only rootstock left"))
    return tree


@transaction.atomic
def died(
    tree: Tree, *, by: User, now: datetime, today: date, on: date, reason: str
) -> Tree:
    """Note that a standing tree is dead; its open work falls away."""
    refuse_removed(tree)
    if tree.state == State.DEAD:
        raise Refused(
            _("%(code)s is dead already.") % {"code": tree.code}, code="nothing_changed"
        )
    reason = reason_in(reason)
    _day_of(tree, on, today=today)
    before = audit.snapshot(tree, *LIFE)
    tree.state, tree.died_on = State.DEAD, on
    _save(Verb.DIED, tree, by=by, now=now, before=before, reason=reason, on=on)
    tasks.cancel_all(tree, by=by, now=now, today=today, reason=_("tree died"))
    return tree


@transaction.atomic
def remove(
    tree: Tree, *, by: User, now: datetime, today: date, on: date, reason: str
) -> Tree:
    """Take a tree out of the orchard; its spot is free, its story stays."""
    refuse_removed(tree)
    reason = reason_in(reason)
    _day_of(tree, on, today=today)
    before = audit.snapshot(tree, *LIFE)
    tree.state, tree.removed_on, tree.removal_reason = State.REMOVED, on, reason
    stay = tree.stays.filter(ended=False).order_by("id").last()
    if stay is not None:
        stay.ended, stay.until_on = True, on
        audit.save_row(stay)
    tags.retire_tag(tree, by=by, now=now, reason=_("tree removed"))
    _save(Verb.REMOVE, tree, by=by, now=now, before=before, reason=reason, on=on)
    tasks.cancel_all(tree, by=by, now=now, today=today, reason=_("tree removed"))
    return tree


@transaction.atomic
def replace(
    tree: Tree,
    *,
    by: User,
    now: datetime,
    today: date,
    code: str,
    kind: Kind,
    planted_on: date,
    reason: str = "",
    **details: Any,
) -> Tree:
    """Plant a new tree in the same spot; it takes over nothing of the old one's story.

    A tree that still stands is removed on the day the new one is planted.
    """
    if Tree.objects.filter(replaces=tree).exists():
        raise Refused(
            _("%(code)s has been replaced by %(newer)s already.")
            % {"code": tree.code, "newer": tree.replaced_by.code},
            code="already_replaced",
        )
    past_day(planted_on, today=today, field="planted_on")
    if tree.is_standing:
        why = reason.strip() or _("replaced by %(code)s") % {"code": code.strip()}
        try:
            remove(tree, by=by, now=now, today=today, on=planted_on, reason=why)
        except Refused as refusal:
            if refusal.code != "bad_date":
                raise
            raise Refused(
                str(refusal), code="bad_date", field="planted_on"
            ) from refusal
    elif tree.removed_on is not None and planted_on < tree.removed_on:
        raise Refused(
            _("%(code)s stood here until %(day)s. Plant the new tree after that.")
            % {"code": tree.code, "day": tree.removed_on},
            code="bad_date",
            field="planted_on",
        )
    return plant(
        tree.orchard,
        by=by,
        now=now,
        today=today,
        spot=tree.spot,
        code=code,
        kind=kind,
        planted_on=planted_on,
        replaces=tree,
        **details,
    )


@transaction.atomic
def take_back(tree: Tree, *, by: User, now: datetime, reason: str) -> Tree:
    """Take back the last of removed, dead, rootstock only, when it was a mistake.

    Work that fell away stays so; it opens again by the care plan or an inspection.
    A tag that was retired stays retired.
    """
    reason = reason_in(reason)
    before = audit.snapshot(tree, *LIFE)
    verb = {
        State.DEAD: Verb.TAKE_BACK_DEATH,
        State.ROOTSTOCK_ONLY: Verb.TAKE_BACK_DEAD_TOP,
    }.get(State(tree.state), Verb.TAKE_BACK)
    match tree.state:
        case State.REMOVED:
            refuse_occupied(tree.spot, but=tree)
            tree.removed_on, tree.removal_reason = None, ""
            _stand_again(tree)
        case State.DEAD:
            tree.died_on = None
        case State.ROOTSTOCK_ONLY:
            tree.scion_died_on = None
        case _:
            raise Refused(
                _("%(code)s is growing: there is nothing to withdraw.")
                % {"code": tree.code},
                code="nothing_to_take_back",
            )
    tree.state = (
        State.DEAD
        if tree.died_on
        else State.ROOTSTOCK_ONLY
        if tree.scion_died_on
        else State.GROWING
    )
    _save(verb, tree, by=by, now=now, before=before, reason=reason)
    return tree


def refuse_removed(tree: Tree) -> None:
    """Refuse a tree that is no longer in the orchard."""
    if not tree.is_standing:
        raise Refused(
            _(
                "%(code)s was removed on %(day)s. Its record can be read but not "
                "changed."
            )
            % {"code": tree.code, "day": tree.removed_on},
            code="not_standing",
        )


def _stand_again(tree: Tree) -> None:
    stay = tree.stays.filter(ended=True).order_by("id").last()
    if stay is not None:
        stay.ended, stay.until_on = False, None
        audit.save_row(stay)


def _day_of(tree: Tree, on: date, *, today: date) -> None:
    """Refuse a day in the future, before planting, or before what came before it."""
    past_day(on, today=today, field="on")
    arrived = tree.stays.aggregate(last=Max("since_on"))["last"]
    marks = [
        (tree.planted_on, _("planted")),
        (arrived, _("brought to its spot")),
        (tree.scion_died_on, _("left with its rootstock only")),
        (tree.died_on, _("dead")),
    ]
    for day, what in marks:
        if day is not None and on < day:
            at_first = day == tree.planted_on
            raise Refused(
                _("%(code)s was %(what)s %(when)s. Give a day after that.")
                % {
                    "code": tree.code,
                    "what": what,
                    "when": when_planted(tree) if at_first else write_when(day),
                },
                code="bad_date",
                field="on",
            )


def _save(
    verb: Verb,
    tree: Tree,
    *,
    by: User,
    now: datetime,
    before: dict[str, Any],
    reason: str,
    on: date | None = None,
) -> None:
    after = audit.snapshot(tree, *before)
    changed = [name for name in before if before[name] != after[name]]
    changes = {name: after[name] for name in changed}
    if on is not None:
        changes["on"] = on.isoformat()
    audit.save(
        verb,
        tree,
        by=by,
        now=now,
        before={name: before[name] for name in changed},
        after=changes,
        reason=reason,
    )
