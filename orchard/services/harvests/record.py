"""Picks recorded, corrected and withdrawn, and what follows from each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.days import day_in
from orchard.records.models import (
    Closure,
    Happening,
    Harvest,
    HarvestedTree,
    HoldBreach,
    Orchard,
    Task,
    Treatment,
    Tree,
    User,
)
from orchard.science.events import EventKind
from orchard.science.words import JobRole, Picked
from orchard.services import (
    audit,
    care_plan,
    corrections,
    observations,
    permissions,
    tasks,
)
from orchard.services.audit import Verb
from orchard.services.errors import MayNot, Refused, require_reason
from orchard.services.harvests import checks
from orchard.services.harvests.checks import RECALLED, PickHold
from orchard.services.harvests.lots import next_lot
from orchard.services.harvests.shapes import FoodCheck, Pick, TreePick
from orchard.services.harvests.shares import check_shares_fit, shares_of
from orchard.services.permissions import Deed
from orchard.services.quantities import quantity


@dataclass(frozen=True, slots=True)
class RecordedPick:
    """A pick in the book, and what it closed or opened."""

    harvest: Harvest
    closed: tuple[Closure, ...] = ()
    opened: tuple[Task, ...] = ()
    # The plan goes by trees that were picked clean; others stay as they were.
    asks_plan: bool = False


def record(
    orchard: Orchard,
    pick: Pick,
    *,
    by: User,
    now: datetime,
    today: date,
    anyway: str = "",
    written_by: User | None = None,
) -> RecordedPick:
    """Record what was picked as `enter` does, and open at once the work it asks for.

    Raises:
        Refused, MayNot: as `enter`.
    """
    recorded = enter(
        orchard,
        pick,
        by=by,
        now=now,
        today=today,
        anyway=anyway,
        written_by=written_by,
    )
    if not recorded.asks_plan:
        return recorded
    opened = care_plan.open_after(orchard, now=now, today=today)
    return replace(recorded, opened=tuple(opened))


def enter(
    orchard: Orchard,
    pick: Pick,
    *,
    by: User,
    now: datetime,
    today: date,
    anyway: str = "",
    written_by: User | None = None,
) -> RecordedPick:
    """Record what was picked as a lot, and close the work that it was.

    Under a hold it is refused, unless `anyway` says how it came to be picked all the
    same: then it is kept, nothing of it is given away, and the coordinator is asked to
    look into it. A tree picked clean is no longer ready to pick.

    Raises:
        Refused (picked_under_hold): it may not be picked, with what and until when.
        Refused (no_member_then): whoever picked it was no member on that day.
        MayNot: only a coordinator allows what animals or water touched.
        Refused: as `checks.check_possible`.
    """
    if written_by == by:
        written_by = None
    on = day_in(pick.picked_at, orchard.time_zone)
    if written_by is not None:
        permissions.check_was_member(orchard, by, on=on)
    checks.check_possible(pick, orchard, now=now)
    _check_allowed(pick, orchard, written_by or by)
    with audit.written_down_by(written_by), transaction.atomic():
        locked = Orchard.objects.select_for_update(no_key=True).get(pk=orchard.pk)
        trees = [each.tree for each in pick.trees]
        found = checks.holds_on(trees, pick.part, orchard, at=pick.picked_at)
        if not anyway.strip():
            checks.refuse_under_hold(found)
        row = _new(orchard, pick, by=by, now=now)
        row.lot = next_lot(locked, trees, on=on)
        row.written_by = written_by
        _keep_back(row, found)
        audit.save(Verb.RECORD, row, by=by, now=now, after=_ledger_words(row, pick))
        _enter_trees(row, pick)
        _note_breaches(row, found, anyway, by=by, now=now)
        _ask_coordinator(row, found, anyway, by=by, now=now, today=today)
        closed = _close_work(row, pick, by=by, now=now, today=today)
        _note_picked_clean(row, pick, by=by, now=now)
    asks_plan = any(each.is_picked_clean for each in pick.trees)
    return RecordedPick(row, tuple(closed), asks_plan=asks_plan)


def correct(
    harvest: Harvest,
    pick: Pick,
    *,
    by: User,
    now: datetime,
    today: date,
    reason: str,
    anyway: str = "",
) -> RecordedPick:
    """Put a newer record of a pick in place of one, under the same lot number.

    Raises:
        Refused (reason_missing): no reason is given. more_than_picked: more has gone
            away than it says was picked.
        MayNot (not_yours): somebody else recorded it.
        Refused: as `record`.
    """
    reason = require_reason(reason)
    orchard = harvest.orchard
    checks.check_possible(pick, orchard, now=now)
    if FoodCheck.ALLOWED not in harvest.checks:
        _check_allowed(pick, orchard, by)
    with transaction.atomic():
        old = corrections.lock_current(harvest, by)
        trees = [each.tree for each in pick.trees]
        found = checks.holds_on(trees, pick.part, orchard, at=pick.picked_at)
        before = {tree_code for tree_code, _text in old.holds}
        new = [hold for hold in found if hold.tree.code not in before]
        if not anyway.strip():
            checks.refuse_under_hold(new)
        row = _new(orchard, pick, by=by, now=now)
        row.lot = old.lot
        # What was called back stays called back.
        row.breaches = [each for each in old.breaches if each[0] == RECALLED]
        _keep_back(row, found)
        corrections.put_in_place(Verb.CORRECT, old, row, by=by, now=now, reason=reason)
        _enter_trees(row, pick)
        check_shares_fit(row)
        _note_breaches(row, new, anyway, by=by, now=now)
        _ask_coordinator(row, new, anyway, by=by, now=now, today=today)
        _take_back_events(row, by=by, now=now, reason=reason)
        _note_picked_clean(row, pick, by=by, now=now)
    opened = care_plan.open_after(orchard, now=now, today=today)
    return RecordedPick(row, (), tuple(opened))


def withdraw(
    harvest: Harvest, *, by: User, now: datetime, today: date, reason: str
) -> Harvest:
    """Withdraw a pick that never was; the work that it closed opens again.

    Raises:
        Refused (given_away): where parts of it went is on record.
        Refused: as `corrections.withdraw`.
    """
    with transaction.atomic():
        if shares_of(harvest):
            raise Refused(
                _("It says where parts of this lot went. Withdraw those first."),
                code="given_away",
            )
        row = corrections.withdraw(harvest, by=by, now=now, reason=reason)
        _take_back_events(row, by=by, now=now, reason=reason)
        closures = Closure.objects.filter(
            task__orchard=row.orchard,
            undone_at=None,
            evidence__endswith=f"({row.lot})",
        ).select_related("task__tree", "task__orchard")
        for closure in closures.order_by("-id"):
            if tasks.can_reopen(closure.task):
                tasks.reopen(closure.task, by=by, now=now)
    care_plan.open_after(row.orchard, now=now, today=today)
    return row


def look_again(
    treatment: Treatment, *, by: User, now: datetime, today: date
) -> list[Harvest]:
    """Keep back lots of which it turns out only now that a hold stood.

    A treatment that is entered late, or corrected to a longer wait, holds what was
    picked meanwhile. Returns the lots that it found.
    """
    reached = treatment.reached.filter(counts=True).values("tree")
    lots = (
        Harvest.objects.in_orchard(treatment.orchard)
        .current()
        .filter(picked_at__gte=treatment.started_at, harvested__tree__in=reached)
        .select_related("orchard")
        .distinct()
    )
    return [
        row for row in lots.order_by("id") if _catch(row, by=by, now=now, today=today)
    ]


def _catch(row: Harvest, *, by: User, now: datetime, today: date) -> bool:
    trees = list(
        Tree.objects.filter(harvests__harvest=row).select_related("orchard", "kind")
    )
    before = {tree_code for tree_code, _text in row.holds}
    found = [
        hold
        for hold in checks.holds_on(
            trees, Picked(row.part), row.orchard, at=row.picked_at
        )
        if hold.tree.code not in before
    ]
    if not found:
        return False
    columns = ["breaches", "holds", "is_blocked"]
    old = audit.snapshot(row, *columns)
    _keep_back(row, found)
    audit.save(Verb.SET, row, by=by, now=now, fields=columns, before=old)
    words = _("The treatment came to be known after the pick.")
    _note_breaches(row, found, words, by=by, now=now)
    _ask_coordinator(row, found, words, by=by, now=now, today=today)
    return True


def _check_allowed(pick: Pick, orchard: Orchard, by: User) -> None:
    if FoodCheck.ALLOWED not in pick.checks:
        return
    member = permissions.member_for(by, orchard.slug)
    if not permissions.may(member, Deed.RELEASE_FRUIT):
        raise MayNot(
            _(
                "Only the coordinator allows what animals or undrinkable water may "
                "have touched. Leave it unanswered, and ask."
            )
        )


def _new(orchard: Orchard, pick: Pick, *, by: User, now: datetime) -> Harvest:
    return Harvest(
        orchard=orchard,
        part=pick.part,
        picked_at=pick.picked_at,
        how=pick.how,
        checks=sorted(pick.checks),
        is_blocked=FoodCheck.GROUND in pick.checks,
        note=pick.note.strip(),
        by=by,
        received_at=now,
    )


def _keep_back(row: Harvest, found: Sequence[PickHold]) -> None:
    """Write on a lot under which holds it was picked; nothing of it is given away."""
    row.holds = [*row.holds, *([hold.tree.code, hold.text] for hold in found)]
    codes = {code for code, _text in row.breaches}
    for hold in found:
        if hold.code not in codes:
            codes.add(hold.code)
            text = _("Picked under a hold. %(code)s: %(hold)s")
            words = text % {"code": hold.tree.code, "hold": hold.text}
            row.breaches = [*row.breaches, [hold.code, words]]
    row.is_blocked = row.is_blocked or bool(row.breaches)


def _enter_trees(row: Harvest, pick: Pick) -> None:
    audit.save_new_rows(
        [
            HarvestedTree(
                harvest=row,
                tree=each.tree,
                kg=each.kg,
                count=each.count,
                is_shared=each.is_shared,
                is_picked_clean=each.is_picked_clean,
            )
            for each in pick.trees
        ]
    )


def _note_breaches(
    row: Harvest, found: Iterable[PickHold], words: str, *, by: User, now: datetime
) -> None:
    for hold in found:
        breach = HoldBreach(
            orchard=row.orchard,
            tree=hold.tree,
            harvest=row,
            hold=hold.text[:300],
            happened_at=row.picked_at,
            words=words.strip()[:500],
            by=by,
            received_at=now,
        )
        audit.save(Verb.NOTE, breach, by=by, now=now, tree=hold.tree)


def _ask_coordinator(
    row: Harvest,
    found: Sequence[PickHold],
    words: str,
    *,
    by: User,
    now: datetime,
    today: date,
) -> None:
    """Open one task with the holds that a lot was picked under."""
    if not found:
        return
    steps = [f"{hold.tree.code}: {hold.text}" for hold in found]
    steps += [words.strip()] if words.strip() else []
    steps.append(
        _("Keep the lot apart, find out who ate of it, and note where it goes.")
    )
    tasks.ask_coordinator(
        row.orchard,
        title=_("Look into lot %(lot)s, picked under a hold") % {"lot": row.lot},
        steps=steps,
        subject=f"harvest:{row.lot}",
        due_on=today,
        by=by,
        now=now,
        today=today,
    )


def _close_work(
    row: Harvest, pick: Pick, *, by: User, now: datetime, today: date
) -> list[Closure]:
    """Close the picking of trees that were picked clean; of others the rest waits."""
    on = day_in(row.picked_at, row.orchard.time_zone)
    clean = {each.tree.pk: each for each in pick.trees if each.is_picked_clean}
    if pick.part is not Picked.FRUIT or not clean:
        return []
    found = (
        Task.objects.in_orchard(row.orchard)
        .open()
        .with_role(JobRole.HARVEST)
        .filter(tree__in=clean, opens_on__lte=on)
        .order_by("id")
    )
    return tasks.close_all(
        [
            tasks.Ending(
                task,
                by,
                now,
                on,
                written_by=row.written_by,
                evidence=_evidence(row, clean[task.tree_id or 0]),
            )
            for task in found
        ],
        today=today,
    )


def _evidence(row: Harvest, each: TreePick) -> str:
    """Say what was picked; its end names the lot, by which it is found again."""
    figures = []
    if each.kg is not None:
        figures.append(quantity(each.kg, "kg", row.orchard.units))
    if each.count is not None:
        text = ngettext("%(count)d fruit", "%(count)d fruit", each.count)
        figures.append(text % {"count": each.count})
    return f"{', '.join(figures)} ({row.lot})".strip()


def _note_picked_clean(row: Harvest, pick: Pick, *, by: User, now: datetime) -> None:
    """Note that trees were harvested, which ripeness and care plan go by."""
    if pick.part is not Picked.FRUIT:
        return
    for each in pick.trees:
        if each.is_picked_clean:
            observations.note_event(
                row.orchard,
                what=EventKind.HARVESTED,
                happened_on=day_in(row.picked_at, row.orchard.time_zone),
                tree=each.tree,
                note=row.lot,
                by=by,
                now=now,
            )


def _take_back_events(row: Harvest, *, by: User, now: datetime, reason: str) -> None:
    noted = Happening.objects.current().filter(
        orchard=row.orchard, what=EventKind.HARVESTED, note=row.lot
    )
    for event in noted.order_by("id"):
        observations.withdraw_event(event, by=by, now=now, reason=reason)


def _ledger_words(row: Harvest, pick: Pick) -> dict[str, Any]:
    """Return what the ledger tells of a lot: its row, trees and amounts."""
    words = audit.snapshot(row)
    words["trees"] = ", ".join(each.tree.code for each in pick.trees)
    words["kg"], words["count"] = pick.kg, pick.count
    return words
