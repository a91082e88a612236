"""Treatments: planned, done, corrected, withdrawn; and the holds that follow."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import (
    Closure,
    Membership,
    Orchard,
    ProductUse,
    Task,
    TreatedTree,
    Treatment,
    User,
)
from orchard.science import guide
from orchard.science import holds as laws
from orchard.science.words import Reach, RecordProfile, TreatmentKind
from orchard.services import audit, corrections, permissions, photos, tasks
from orchard.services.audit import Verb
from orchard.services.errors import MayNot, Refused, require_reason
from orchard.services.holds import openings_of
from orchard.services.permissions import Deed
from orchard.services.photos import Picture
from orchard.services.treatments import checks, opening
from orchard.services.treatments.crops import is_on_label
from orchard.services.treatments.shapes import Breach, Use

# The columns that a use brings as they are.
FIELDS = (
    "use_type", "target", "method", "droplets", "size", "size_unit", "mix_litres",
    "amount_reason", "bbch", "applicator", "applicator_contact", "licence",
    "licence_until", "supervisor", "owner", "home_garden_reason", "wind_kmh",
    "wind_from", "wind_changes", "temperature_c", "humidity_percent", "rain_expected",
    "soil_is_dry", "weeds_flower", "note",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Recorded:
    """A treatment on record, the tasks it closed, and what it broke."""

    treatment: Treatment
    closed: tuple[Closure, ...] = ()
    breaches: tuple[Breach, ...] = ()


def plan(
    orchard: Orchard, use: Use, *, by: User, now: datetime, today: date
) -> Treatment:
    """Plan a use; one that would break a rule is refused with all that it breaks.

    Raises:
        MayNot, Refused: as `check_plan`.
    """
    check_plan(orchard, use, by=by, now=now, today=today)
    with transaction.atomic():
        row = _new(orchard, use, by=by, now=now, is_plan=True)
        audit.save(Verb.PLAN, row, by=by, now=now, after=_ledger_words(row, use))
        _reach(row, use)
    return row


def check_plan(
    orchard: Orchard, use: Use, *, by: User, now: datetime, today: date
) -> None:
    """Refuse a plan that breaks a rule.

    Raises:
        MayNot: volunteers don't plan plant protection.
        Refused (breaks_rules): it would break a label, the law, the weather's limits
            or a hold. Others as `checks.check_possible`.
    """
    _require_planner(orchard, by)
    checks.check_possible(use, now=now, is_plan=True)
    _refuse_broken(use, orchard, today=today)


def record(
    orchard: Orchard,
    use: Use,
    *,
    by: User,
    now: datetime,
    today: date,
    written_by: User | None = None,
    plan: Treatment | None = None,
    task: Task | None = None,
    pictures: Sequence[Picture] = (),
) -> Recorded:
    """Record a use that was done, whatever rule it broke, and what follows from it.

    Open tasks of the trees whose work it is are closed with it, and the one it was
    recorded from. What it broke, or its record lacks, is a task of the coordinator.

    Raises:
        Refused (not_current): the plan was carried out, corrected or withdrawn.
        Refused (no_member_then): whoever did it was no member on that day.
        Refused: as `checks.check_possible`.
    """
    if written_by == by:
        written_by = None
    on = day_in(use.ended_at, orchard.time_zone)
    if written_by is not None:
        permissions.check_was_member(orchard, by, on=on)
    checks.check_possible(use, now=now, is_plan=False)
    laid = photos.lay_down(pictures)
    try:
        with audit.written_down_by(written_by), transaction.atomic():
            if plan is not None:
                plan = _locked(plan)
                if not plan.is_plan or Treatment.objects.filter(plan=plan).exists():
                    raise Refused(
                        _("This plan was carried out already."), code="not_current"
                    )
            breaches = _breaches(use, orchard, today=today, besides=plan)
            row = _new(orchard, use, by=by, now=now, is_plan=False)
            row.written_by, row.plan, row.breaches = written_by, plan, _kept(breaches)
            audit.save(Verb.RECORD, row, by=by, now=now, after=_ledger_words(row, use))
            _reach(row, use)
            _enter_photos(laid, row, use, by=by, now=now)
            closed = _close_work(row, use, task, by=by, now=now, today=today)
            _ask_coordinator(row, breaches, by=by, now=now, today=today)
    finally:
        photos.take_away_unentered(name for name, _picture in laid)
    return Recorded(row, tuple(closed), tuple(breaches))


def correct(
    treatment: Treatment,
    use: Use,
    *,
    by: User,
    now: datetime,
    today: date,
    reason: str,
    qualified: str = "",
    pictures: Sequence[Picture] = (),
) -> Recorded:
    """Put a newer record of a use in place of one; the old one stays readable.

    Holds move with it: a later end at once, an earlier one only where somebody who
    leads names what makes them fit to say so.

    Raises:
        Refused (reason_missing): no reason is given. not_qualified: holds would end
            earlier, and nobody fit to say so is named.
        MayNot (not_yours): somebody else recorded it.
        Refused: as `record`.
    """
    reason = require_reason(reason)
    orchard = treatment.orchard
    checks.check_possible(use, now=now, is_plan=treatment.is_plan)
    if treatment.is_plan:
        _require_planner(orchard, by)
        _refuse_broken(use, orchard, today=today)
    laid = photos.lay_down(pictures)
    try:
        with transaction.atomic():
            old = corrections.lock_current(treatment, by)
            breaches = (
                [] if old.is_plan else _breaches(use, orchard, today=today, besides=old)
            )
            row = _new(orchard, use, by=by, now=now, is_plan=old.is_plan)
            row.written_by = None
            row.breaches, row.closure = _kept(breaches), old.closure
            before = {
                reached.tree_id: openings_of(reached) for reached in old.reached.all()
            }
            row.plan, old.plan = old.plan, None
            if row.plan is not None:
                audit.save_row(old, ["plan"])
            corrections.put_in_place(
                Verb.CORRECT, old, row, by=by, now=now, reason=reason
            )
            old.reached.update(counts=False)
            after = _reach(row, use)
            if not old.is_plan and opening.is_earlier(before, after):
                _require_qualified(orchard, by, qualified)
            photos.carry_over(old, row)
            _enter_photos(laid, row, use, by=by, now=now)
            _ask_coordinator(row, breaches, by=by, now=now, today=today)
    finally:
        photos.take_away_unentered(name for name, _picture in laid)
    return Recorded(row, (), tuple(breaches))


def withdraw(
    treatment: Treatment,
    *,
    by: User,
    now: datetime,
    today: date,
    reason: str,
    qualified: str = "",
) -> Treatment:
    """Withdraw a treatment that never was; its holds end, the record stays readable.

    Raises:
        Refused (not_qualified): it holds something, and nobody fit to say so is named.
            Others as `corrections.withdraw`.
    """
    with transaction.atomic():
        holding = treatment.reached.filter(counts=True)
        if holding.holding(now).exists():
            _require_qualified(treatment.orchard, by, qualified)
        row = corrections.withdraw(treatment, by=by, now=now, reason=reason)
        row.reached.update(counts=False)
    return row


def _refuse_broken(use: Use, orchard: Orchard, *, today: date) -> None:
    broken = checks.broken_rules(use, orchard, today=today, is_plan=True)
    if broken:
        raise Refused(
            " ".join(breach.text for breach in broken),
            code="breaks_rules",
            field=broken[0].field or None,
        )


def _require_planner(orchard: Orchard, by: User) -> None:
    member = permissions.member_for(by, orchard.slug)
    permissions.require(member, Deed.PLAN_TREATMENTS)


def _require_qualified(orchard: Orchard, by: User, qualified: str) -> None:
    member = permissions.member_for(by, orchard.slug)
    if not permissions.may(member, Deed.PLAN_TREATMENTS):
        raise MayNot(
            _(
                "Holds would end earlier with this. A crew lead or the coordinator "
                "can enter it."
            )
        )
    if not qualified.strip():
        raise Refused(
            _(
                "Holds would end earlier with this. Enter the licence, or who "
                "supervises, of the person who says so."
            ),
            code="not_qualified",
            field="qualified",
        )


def _enter_photos(
    laid: Iterable[tuple[UUID, Picture]],
    row: Treatment,
    use: Use,
    *,
    by: User,
    now: datetime,
) -> None:
    """Enter photos of a use; where it was on a single tree, they show that tree too."""
    tree = use.trees[0] if len(use.trees) == 1 else None
    for name, picture in laid:
        photos.enter(
            name, picture, orchard=row.orchard, by=by, now=now, tree=tree, treatment=row
        )


def _breaches(
    use: Use, orchard: Orchard, *, today: date, besides: Treatment | None
) -> list[Breach]:
    profile = RecordProfile(orchard.record_profile)
    return [
        *checks.broken_rules(use, orchard, today=today, is_plan=False, besides=besides),
        *checks.missing_from(use, profile),
    ]


def _kept(breaches: Iterable[Breach]) -> list[list[str]]:
    return [[breach.code, breach.text] for breach in breaches]


def _new(
    orchard: Orchard, use: Use, *, by: User, now: datetime, is_plan: bool
) -> Treatment:
    values = {name: use.fields[name] for name in FIELDS if name in use.fields}
    details = {
        key: value for key, value in use.details.items() if value not in (None, "")
    }
    return Treatment(
        orchard=orchard,
        kind=use.kind,
        is_plan=is_plan,
        started_at=use.started_at or use.ended_at,
        ended_at=use.ended_at,
        details=details,
        by=by,
        received_at=now,
        **values,
    )


def _reach(row: Treatment, use: Use) -> dict[int, laws.Openings]:
    """Write the products and the trees of a treatment, and when each comes free."""
    audit.save_new_rows(
        [
            ProductUse(
                treatment=row,
                product=amount.product,
                dose=amount.dose,
                dose_unit=amount.dose_unit,
                total=amount.total,
                total_unit=amount.total_unit,
                batch=amount.batch,
                expires_on=amount.expires_on,
            )
            for amount in use.amounts
        ]
    )
    reached: dict[int, TreatedTree] = {}
    for reach, trees in (
        (Reach.TREATED, use.trees),
        (Reach.DRIFT, use.drift),
        (Reach.BENEATH, use.beneath),
    ):
        for tree in trees:
            on_label = all(is_on_label(amount.product, tree) for amount in use.amounts)
            reached.setdefault(
                tree.pk,
                TreatedTree(
                    orchard=row.orchard,
                    treatment=row,
                    tree=tree,
                    reach=reach,
                    is_on_label=on_label or not use.is_protection,
                    counts=not row.is_plan,
                ),
            )
    return opening.write_new(row, list(reached.values()))


def _close_work(
    row: Treatment,
    use: Use,
    task: Task | None,
    *,
    by: User,
    now: datetime,
    today: date,
) -> list[Closure]:
    """Close the open tasks whose work this was; a task of its own first."""
    jobs = guide.load().treatments[use.kind].jobs
    on = day_in(use.ended_at, row.orchard.time_zone)
    trees = [tree.pk for tree in use.trees]
    found = (
        Task.objects.open()
        .of_jobs()
        .filter(orchard=row.orchard, key__in=jobs, tree__in=trees, opens_on__lte=on)
        .order_by("id")
    )
    wanted = {each.pk: each for each in found}
    if task is not None and task.closed_at is None:
        wanted[task.pk] = task
    closed = tasks.close_all(
        [
            tasks.Ending(
                each,
                by,
                now,
                on,
                written_by=row.written_by,
                evidence=_evidence(row, use),
            )
            for each in wanted.values()
        ],
        today=today,
    )
    own = next((each for each in closed if task and each.task_id == task.pk), None)
    if own is None and len(closed) == 1:
        [own] = closed
    if own is not None:
        row.closure = own
        audit.save_row(row, ["closure"])
    return closed


def _evidence(row: Treatment, use: Use) -> str:
    name = guide.load().treatments[use.kind].name
    products = ", ".join(amount.product.name for amount in use.amounts)
    return f"{name}: {products}" if products else name


def _ask_coordinator(
    row: Treatment,
    breaches: Sequence[Breach],
    *,
    by: User,
    now: datetime,
    today: date,
) -> None:
    """Open one task with all that a use broke or its record lacks."""
    if not breaches:
        return
    profile = RecordProfile(row.orchard.record_profile)
    on = day_in(row.ended_at, row.orchard.time_zone)
    due = max(laws.record_due_on(on, profile), today)
    lacks = all(breach.code == "missing" for breach in breaches)
    title = (
        _("Complete the record of the treatment of %(day)s")
        if lacks
        else _("Look into the treatment of %(day)s")
    ) % {"day": date_format(on, "j M Y")}
    tasks.ask_coordinator(
        row.orchard,
        title=title,
        steps=[breach.text for breach in breaches],
        subject=f"treatment:{row.pk}",
        due_on=due,
        by=by,
        now=now,
        today=today,
    )


def _locked(row: Treatment) -> Treatment:
    locked: Treatment = (
        Treatment.objects.select_for_update(of=("self",), no_key=True)
        .select_related("orchard")
        .get(pk=row.pk)
    )
    if not locked.is_current:
        raise Refused(
            _("This record was corrected or withdrawn already."), code="not_current"
        )
    return locked


def _ledger_words(row: Treatment, use: Use) -> dict[str, Any]:
    """Return what the ledger tells of a treatment: its row, products and trees."""
    words = audit.snapshot(row)
    words["products"] = ", ".join(amount.product.name for amount in use.amounts)
    words["trees"] = ", ".join(tree.code for tree in use.trees)
    return words


def plans_of(member: Membership) -> list[Treatment]:
    """List the planned uses that have not taken place, the first due first."""
    rows = Treatment.objects.in_orchard(member.orchard).planned()
    return list(rows.with_products_and_trees().order_by("ended_at", "id"))


def kind_of(row: Treatment) -> guide.TreatmentType:
    """Return what the guide says of a treatment's kind."""
    return guide.load().treatments[TreatmentKind(row.kind)]
