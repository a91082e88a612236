"""Deeds done without signal, carried out when their entry comes in.

Meanwhile somebody else may have done the same work. Then the deed changes nothing, what
was written down with it is kept in the ledger, and the phone is told who was first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Protocol

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orchard.records.models import (
    Harvest,
    Inspection,
    Membership,
    Orchard,
    SecondLook,
    Task,
    Treatment,
    Tree,
    User,
)
from orchard.services import (
    audit,
    corrections,
    harvests,
    inspections,
    observations,
    practice,
    ripeness,
    tasks,
    treatments,
    water,
)
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.harvests import WrittenPick
from orchard.services.treatments import Use


@dataclass(frozen=True, slots=True)
class Effect:
    """What a deed became: its row, and what the phone is told.

    Where it `asks_plan`, the next tasks are opened once the deed is in the book.
    """

    subject_id: int
    asks_plan: bool = False
    notices: tuple[str, ...] = ()


class ParsedDeed(Protocol):
    """A deed as its form says it, ready to be carried out."""

    def __call__(self, *, by: User, now: datetime) -> Effect:
        """Carry it out.

        Raises:
            Refused: it cannot be done as it is written down.
        """


def close_task(
    task: Task,
    *,
    by: User,
    now: datetime,
    today: date,
    litres: float | None = None,
    **ending: Any,
) -> Effect:
    """Close a task as done or skipped; one that is closed by now stays as it is.

    Raises:
        Refused: as closing a task and closing a watering say, but for already_closed.
    """
    when: dict[str, Any] = {"by": by, "now": now, "today": today}
    try:
        if litres is None:
            tasks.close(task, **when, **ending)
        else:
            water.close_watering(task, litres=litres, **when, **ending)
    except Refused as refusal:
        if refusal.code != "already_closed":
            raise
        words = {**ending, "litres": litres}
        return _keep_words(
            task, refusal, words, task.tree, task.private, by=by, now=now
        )
    return Effect(task.pk)


def take_task(task: Task, *, by: User, now: datetime, gives: bool = False) -> Effect:
    """Take a task or give it back; whoever comes too late is told who has it."""
    verb = tasks.give_back_task if gives else tasks.take_task
    try:
        verb(task, by=by, now=now)
    except Refused as refusal:
        return Effect(task.pk, notices=(str(refusal),))
    return Effect(task.pk)


def note_event(orchard: Orchard, *, by: User, now: datetime, **noted: Any) -> Effect:
    """Note an event; work follows it.

    Raises:
        Refused: as `observations.note_event` says.
    """
    row = observations.note_event(orchard, by=by, now=now, **noted)
    return Effect(row.pk, asks_plan=True)


def note_stage(orchard: Orchard, *, by: User, now: datetime, **noted: Any) -> Effect:
    """Note a growth stage; work may have waited for it.

    Raises:
        Refused: as `observations.note_stage` says.
    """
    row = observations.note_stage(orchard, by=by, now=now, **noted)
    return Effect(row.pk, asks_plan=True)


def note_ripeness_test(
    tree: Tree, *, by: User, now: datetime, today: date, **figures: Any
) -> Effect:
    """Record a test of fruit; it may ask for work.

    Raises:
        Refused: as `ripeness.note_test` says.
    """
    reading = ripeness.note_test(tree, by=by, now=now, today=today, **figures)
    return Effect(reading.test.pk, asks_plan=True)


def note_watering(
    trees: Sequence[Tree], *, by: User, now: datetime, today: date, **given: Any
) -> Effect:
    """Note water given to trees, and close the work it does.

    Raises:
        Refused: as `water.note_watering` says.
    """
    rows = water.note_watering(trees, by=by, now=now, today=today, **given)
    return Effect(rows[0].pk)


def record_treatment(
    orchard: Orchard, use: Use, *, by: User, now: datetime, today: date, **along: Any
) -> Effect:
    """Record a use of products on trees, and what it closes.

    Raises:
        Refused: as `treatments.record` says.
    """
    found = treatments.record(orchard, use, by=by, now=now, today=today, **along)
    notices = [each.text for each in found.breaches if each.code != "missing"]
    lacks = len(found.breaches) - len(notices)
    if lacks:
        text = ngettext(
            "The record lacks %(count)d detail. Complete it on its page.",
            "The record lacks %(count)d details. Complete it on its page.",
            lacks,
        )
        notices.append(text % {"count": lacks})
    return Effect(found.treatment.pk, notices=tuple(notices))


def note_wet_spell(
    orchard: Orchard, *, by: User, now: datetime, **spell: Any
) -> Effect:
    """Note when leaves were wet.

    Raises:
        Refused: as `treatments.note_wet_spell` says.
    """
    row = treatments.note_wet_spell(orchard, by=by, now=now, **spell)
    return Effect(row.pk)


def confirm_dry(
    treatment: Treatment, *, by: User, now: datetime, dry_at: datetime, qualified: str
) -> Effect:
    """Note that a treatment had dried, whatever was corrected of it meanwhile.

    Raises:
        Refused: as `treatments.confirm_dry` says.
    """
    treatment = corrections.latest_version(treatment)
    treatments.confirm_dry(
        treatment, by=by, now=now, dry_at=dry_at, qualified=qualified
    )
    return Effect(treatment.pk)


def add_product(
    orchard: Orchard, *, by: User, now: datetime, today: date, **label: Any
) -> Effect:
    """Enter a product with what its label says; its photo comes as an entry of its own.

    Raises:
        Refused: as `treatments.add_product` says.
    """
    row = treatments.add_product(orchard, by=by, now=now, today=today, **label)
    return Effect(row.pk)


def record_harvest(
    member: Membership,
    written: WrittenPick,
    *,
    by: User,
    now: datetime,
    today: date,
    anyway: str = "",
) -> Effect:
    """Record what was picked as a lot; under a hold it is refused, and can be mended.

    Raises:
        Refused: as `harvests.pick_named` and `harvests.enter` say.
    """
    pick = harvests.pick_named(member, written)
    recorded = harvests.enter(
        member.orchard, pick, by=by, now=now, today=today, anyway=anyway
    )
    return Effect(recorded.harvest.pk, asks_plan=recorded.asks_plan)


def share_harvest(
    lot: Harvest, *, by: User, now: datetime, today: date, **share: Any
) -> Effect:
    """Note where a part of a lot went, whatever was corrected of the lot meanwhile.

    Raises:
        Refused: as `harvests.share` says.
    """
    lot = harvests.current_lot(lot)
    row = harvests.share(lot, by=by, now=now, today=today, **share)
    return Effect(row.pk)


def withdraw_look(inspection: Inspection, *, by: User, now: datetime) -> Effect:
    """Take a clean look back; one that does not stand any more stays as it is.

    Raises:
        MayNot (not_yours): somebody else took it.
    """
    try:
        inspections.withdraw(inspection, by=by, now=now, reason=_("Withdrawn at once."))
    except Refused as refusal:
        if refusal.code != "not_current":
            raise
        return Effect(inspection.pk, notices=(str(refusal),))
    return Effect(inspection.pk)


def answer_second_look(
    look: SecondLook, *, by: User, now: datetime, **answer: Any
) -> Effect:
    """Answer a second look; one that needs no answer any more stays as it is.

    Raises:
        Refused (own_finding, names_no_sign): as their names say.
    """
    try:
        inspections.answer_second_look(look, by=by, now=now, **answer)
    except Refused as refusal:
        if refusal.code not in ("already_answered", "not_current"):
            raise
        # Another sign may be one to report, and the words may name it.
        private = look.finding.private or bool(answer.get("sign"))
        tree = look.finding.tree
        return _keep_words(look, refusal, answer, tree, private, by=by, now=now)
    return Effect(look.pk)


def _keep_words(
    row: Task | SecondLook,
    refusal: Refused,
    words: dict[str, Any],
    tree: Tree | None,
    private: bool,
    *,
    by: User,
    now: datetime,
) -> Effect:
    audit.write(
        Verb.NOTE,
        row,
        by=by,
        now=now,
        orchard=row.orchard,
        tree=tree,
        after={name: value for name, value in words.items() if value},
        private=private,
    )
    notice = _("%(why)s What you wrote is kept in the ledger.") % {"why": refusal}
    return Effect(row.pk, notices=(notice,))


def answer_practice(
    member: Membership, *, by: User, now: datetime, at: datetime, **given: Any
) -> Effect:
    """Keep an answer of the practice as of when it was given, and say nothing of it.

    Raises:
        Refused: as `practice.answer` says.
    """
    return Effect(practice.answer(member, now=at, **given).pk)
