"""What moves the end of holds: found dry, wet again, the day an adviser gives."""

from __future__ import annotations

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import (
    DryCheck,
    Orchard,
    TreatedTree,
    Treatment,
    User,
    WetSpell,
)
from orchard.services import audit, corrections, permissions
from orchard.services.audit import Verb
from orchard.services.errors import MayNot, Refused
from orchard.services.permissions import Deed
from orchard.services.treatments import opening


def confirm_dry(
    treatment: Treatment,
    *,
    dry_at: datetime,
    qualified: str,
    by: User,
    now: datetime,
) -> DryCheck:
    """Note that what was sprayed had dried; entry opens by the label from then on.

    Raises:
        MayNot (not_qualified): volunteers don't say so.
        Refused (not_qualified): no licence or supervisor is named. wrong_time: before
            the end of the treatment, or in the future. not_current: the treatment was
            corrected or withdrawn. not_asked: no label of it says "until dry".
    """
    orchard = treatment.orchard
    if not permissions.may(
        permissions.member_for(by, orchard.slug), Deed.PLAN_TREATMENTS
    ):
        raise MayNot(
            _(
                "Only a licensed person, or one supervised by one, may confirm that it "
                "is dry: a crew lead or the coordinator enters it."
            ),
            code="not_qualified",
        )
    if not qualified.strip():
        raise Refused(
            _("Enter the licence number, or who supervises you."),
            code="not_qualified",
            field="qualified",
        )
    if dry_at > now:
        raise Refused(
            _("That is in the future. Enter when you found it dry."),
            code="wrong_time",
            field="dry_at",
        )
    if dry_at < treatment.ended_at:
        raise Refused(
            _("The treatment ended later than that. Enter when you found it dry."),
            code="wrong_time",
            field="dry_at",
        )
    with transaction.atomic():
        locked = Treatment.objects.select_for_update(of=("self",), no_key=True).get(
            pk=treatment.pk
        )
        if not locked.is_current or locked.is_plan:
            raise Refused(
                _("This treatment was corrected or withdrawn. Open the newer record."),
                code="not_current",
            )
        if not opening.asks_for_dry(locked):
            raise Refused(
                _("No label of this treatment asks to wait until it is dry."),
                code="not_asked",
            )
        row = DryCheck(
            orchard=orchard,
            treatment=treatment,
            dry_at=dry_at,
            qualified=qualified.strip(),
            by=by,
            received_at=now,
        )
        audit.save(Verb.NOTE, row, by=by, now=now)
        opening.write_again([treatment], by=by, now=now)
    return row


def withdraw_dry_check(
    check: DryCheck, *, by: User, now: datetime, reason: str
) -> DryCheck:
    """Withdraw a check that was wrong; what it opened is closed again.

    Raises:
        Refused: as `corrections.withdraw`.
    """
    with transaction.atomic():
        row = corrections.withdraw(check, by=by, now=now, reason=reason)
        opening.write_again([row.treatment], by=by, now=now)
    return row


def note_wet_spell(
    orchard: Orchard,
    *,
    cause: str,
    began_at: datetime,
    ended_at: datetime,
    by: User,
    now: datetime,
) -> WetSpell:
    """Note when leaves were wet; a check made meanwhile says nothing any more.

    Raises:
        Refused (wrong_time): it ends before it begins, or lies in the future.
    """
    if ended_at <= began_at:
        raise Refused(
            _("It ends before it begins. Check both times."),
            code="wrong_time",
            field="ended_at",
        )
    if began_at > now:
        raise Refused(
            _("That is in the future. Enter what has happened."),
            code="wrong_time",
            field="began_at",
        )
    row = WetSpell(
        orchard=orchard,
        cause=cause,
        began_at=began_at,
        ended_at=ended_at,
        by=by,
        received_at=now,
    )
    with transaction.atomic():
        audit.save(Verb.NOTE, row, by=by, now=now)
        opening.write_again(_checked_meanwhile(row), by=by, now=now)
    return row


def withdraw_wet_spell(
    spell: WetSpell, *, by: User, now: datetime, reason: str
) -> WetSpell:
    """Withdraw a wet spell that never was.

    Raises:
        Refused: as `corrections.withdraw`.
    """
    with transaction.atomic():
        row = corrections.withdraw(spell, by=by, now=now, reason=reason)
        opening.write_again(_checked_meanwhile(row), by=by, now=now)
    return row


def _checked_meanwhile(spell: WetSpell) -> list[Treatment]:
    return list(
        Treatment.objects.in_orchard(spell.orchard)
        .done()
        .filter(
            dry_checks__dry_at__gte=spell.began_at,
            dry_checks__dry_at__lt=spell.ended_at,
        )
        .select_related("orchard")
        .distinct()
    )


def set_adviser_day(
    row: TreatedTree,
    *,
    opens_on: date,
    adviser: str,
    by: User,
    now: datetime,
) -> TreatedTree:
    """Set from which day an adviser lets fruit be picked that no label speaks of.

    Raises:
        MayNot: volunteers don't set it.
        Refused (not_asked): the labels name this tree. no_adviser: nobody is named.
    """
    orchard = row.orchard
    member = permissions.member_for(by, orchard.slug)
    permissions.require(member, Deed.PLAN_TREATMENTS)
    if row.is_on_label:
        raise Refused(
            _("The labels name this tree; their days count."), code="not_asked"
        )
    if not adviser.strip():
        raise Refused(
            _("Name the adviser, and how to reach them."),
            code="no_adviser",
            field="adviser",
        )
    with transaction.atomic():
        before = audit.snapshot(row, "adviser", "adviser_opens_at")
        row.adviser = adviser.strip()
        zone = ZoneInfo(orchard.time_zone)
        row.adviser_opens_at = datetime.combine(opens_on, time(), tzinfo=zone)
        audit.save(
            Verb.SET,
            row,
            by=by,
            now=now,
            fields=["adviser", "adviser_opens_at"],
            before=before,
        )
        opening.write_again([row.treatment], by=by, now=now)
        row.refresh_from_db()
    return row
