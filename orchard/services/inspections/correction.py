"""Correcting: a newer version, a withdrawal, an override. Nothing is erased."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import (
    Closure,
    Finding,
    Inspection,
    Photo,
    PhotoLink,
    Task,
    Tree,
    User,
)
from orchard.science.figures import figure
from orchard.science.words import Verdict
from orchard.services import audit, cases, permissions, tasks
from orchard.services.audit import Verb
from orchard.services.errors import MayNot, Refused, require_reason
from orchard.services.inspections import recording, side_effects, submission
from orchard.services.inspections.recording import Logged, day_after
from orchard.services.inspections.submission import SeenSign, Submission
from orchard.services.permissions import Deed
from orchard.services.photos import Picture

# Figures of the days, until it is done and until the next look, that an override gives
# when it names none.
USUAL_DAYS: Mapping[Verdict, tuple[str, str]] = {
    Verdict.LEAVE: ("", ""),
    Verdict.WATCH: ("", "override_recheck_watch_days"),
    Verdict.ACT: ("override_due_act_days", "override_recheck_act_days"),
    Verdict.REPORT: ("report_due_days", "override_recheck_report_days"),
}


@dataclass(frozen=True, slots=True)
class Overridden:
    """What follows from a verdict that a person gave instead of the book."""

    verdict: Verdict
    due_days: int | None
    recheck_days: int | None
    because: tuple[str, ...]


def earlier_version(inspection: Inspection) -> Inspection | None:
    """Return the version that an inspection corrects, or None."""
    if inspection.corrects_id is None:
        return None
    rows = Inspection.objects.filter(pk=inspection.corrects_id)
    return rows.select_related("by", "written_by", "tree").first()


def later_version(inspection: Inspection) -> Inspection | None:
    """Return the version that corrects an inspection, or None."""
    rows = Inspection.objects.filter(corrects=inspection)
    return rows.select_related("by", "written_by", "tree").first()


def hold(inspection: Inspection, by: User, reason: str) -> tuple[Inspection, str]:
    """Lock the version that stands, for who may change it and says why.

    Returns it with the reason as it is kept.

    Raises:
        MayNot (not_yours), not_current, reason_missing: as their names say.
    """
    current: Inspection = (
        Inspection.objects.select_for_update(of=("self",), no_key=True)
        .select_related("orchard", "tree__orchard", "tree__kind", "tree__spot__block")
        .get(pk=inspection.pk)
    )
    member = permissions.member_for(by, current.orchard.slug)
    permissions.require_own(member, current)
    if not current.is_current:
        raise Refused(
            _("This record was changed in the meantime. Open the newest version."),
            code="not_current",
        )
    return current, require_reason(reason)


def correct(
    inspection: Inspection,
    *,
    by: User,
    now: datetime,
    reason: str,
    seen_at: datetime | None = None,
    findings: Sequence[SeenSign] = (),
    all_well: bool = False,
    condition: int | None = None,
    note: str = "",
    pictures: Sequence[Picture] = (),
) -> Logged:
    """Write a newer version of an inspection; work follows it, the old one stays.

    A case that was opened stays open: it ends with the authority's answer only.

    Raises:
        MayNot (not_yours), not_current, reason_missing: as their names say.
        Refused (no_member_then): what another saw moves to a day they were no member.
        Everything that recording refuses.
    """
    first = inspection.findings.order_by("pk").values_list("pk", flat=True).first()
    look = submission.look_of(
        inspection.tree,
        Submission(
            seen_at=seen_at or inspection.seen_at,
            made_at=inspection.made_at,
            findings=tuple(findings),
            all_well=all_well,
            condition=condition,
            note=note,
            pictures=tuple(pictures),
            taken_on=inspection.seen_on,
        ),
        now=now,
        before_pk=first,
    )
    with (
        recording.laid(look) as names,
        audit.written_down_by(by),
        transaction.atomic(),
    ):
        old, reason = hold(inspection, by, reason)
        arrival = _corrected_arrival(old, by)
        seen_on = look.seen_on(old.tree)
        if arrival.written_by is not None and seen_on != old.seen_on:
            permissions.check_was_member(old.orchard, old.by, on=seen_on)
        old.superseded_at = now
        old.save(update_fields=["superseded_at"])
        suspects = recording.suspects(look)
        tasks.reopen_done(old, by=by, now=now)
        for finding in old.findings.select_related("tree__orchard", "inspection"):
            tasks.retire(finding, by=by, now=now, reason=reason, hushed=suspects)
        entry = recording.CheckedLook(
            tree=old.tree,
            look=look,
            by=by,
            now=now,
            key=uuid.uuid4(),
            arrival=arrival,
            corrects=old,
            reason=reason,
        )
        logged = recording.enter(entry, names)
        move_photos(old, logged)
        return logged


def arrival_of(old: Inspection) -> submission.Arrival:
    """Return how a look first came in, for its newer version to keep."""
    return submission.Arrival(
        offset_seconds=old.offset_seconds,
        round=old.round,
        received_at=old.received_at,
        written_by=old.written_by,
        also_ticked=tuple(old.also_ticked),
    )


def _corrected_arrival(old: Inspection, by: User) -> submission.Arrival:
    """Return how a corrected look came in: one from paper stays its observer's."""
    arrival = arrival_of(old)
    if old.written_by is None or old.by == by:
        return replace(arrival, written_by=None)
    return replace(arrival, seen_by=old.by, written_by=by)


def move_photos(old: Inspection, logged: Logged) -> None:
    """Let the photos of the old version belong to the new one, sign by sign."""
    moving = Photo.objects.filter(pk__in=[photo.pk for photo in old.photos.all()])
    if logged.inspection.has_private:
        moving.update(private=True)
    links = PhotoLink.objects.filter(photo__in=moving)
    new = {finding.sign: finding for finding in logged.findings}
    for finding in old.findings.all():
        _relink(links.filter(finding=finding), "finding", new.get(finding.sign))
    done = {
        closure.task.key: closure for closure in tasks.work_done_at(logged.inspection)
    }
    for closure in old.closures.filter(task__kind=Task.Kind.ACT).exclude(
        undone_at=None
    ):
        _relink(links.filter(closure=closure), "closure", done.get(closure.task.key))
    _relink(links.filter(inspection=old), "inspection", logged.inspection)
    if old.tree_id != logged.inspection.tree_id:
        _relink(links.filter(tree=old.tree_id), "tree", logged.inspection.tree)


def _relink(
    links: QuerySet[PhotoLink],
    name: str,
    subject: Tree | Inspection | Finding | Closure | None,
) -> None:
    """Let links point to another subject; what cannot point to it goes."""
    if subject is not None:
        there = PhotoLink.objects.filter(**{name: subject}).values_list("photo_id")
        links.exclude(photo__in=list(there)).update(**{name: subject})
    links.delete()


def withdraw(
    inspection: Inspection, *, by: User, now: datetime, reason: str
) -> Inspection:
    """Take an inspection back; it stays readable, its work falls away.

    Raises:
        MayNot (not_yours), not_current, reason_missing: as their names say.
    """
    with transaction.atomic():
        current, reason = hold(inspection, by, reason)
        current.withdrawn_at, current.withdrawn_by = now, by
        current.withdrawn_reason = reason
        audit.save(
            Verb.WITHDRAW,
            current,
            by=by,
            now=now,
            fields=["withdrawn_at", "withdrawn_by", "withdrawn_reason"],
            after={},
            reason=current.withdrawn_reason,
            private=current.has_private,
            is_checked=True,
        )
        tasks.reopen_done(current, by=by, now=now)
        for finding in current.findings.select_related("tree__orchard", "inspection"):
            tasks.retire(finding, by=by, now=now, reason=current.withdrawn_reason)
        tasks.reopen_those_of(current, by=by, now=now)
        side_effects.renew(current.tree)
        return current


def override(
    finding: Finding,
    *,
    by: User,
    now: datetime,
    verdict: str,
    reason: str,
    due_days: int | None = None,
) -> Finding:
    """Put a person's verdict beside the book's, with name and reason.

    Raises:
        MayNot (not_yours): only those who lead override.
        Refused (not_current), reason_missing, no_other_verdict: as their names say.
        Refused (report_must_stay): a case is open; the authority's answer closes it.
    """
    given = Verdict(verdict)
    with transaction.atomic():
        current = (
            Finding.objects.select_for_update(of=("self",), no_key=True)
            .select_related("inspection__orchard", "tree__orchard", "tree__spot")
            .get(pk=finding.pk)
        )
        member = permissions.member_for(by, current.inspection.orchard.slug)
        if not permissions.may(member, Deed.CORRECT_OTHERS):
            raise MayNot(
                _("A crew lead or the coordinator may set another verdict."),
                code="not_yours",
            )
        reason = _check_override(current, given, reason)
        usual = [round(figure(key).value) if key else None for key in USUAL_DAYS[given]]
        due = due_days if due_days is not None and given == Verdict.ACT else usual[0]
        fields = ("override", "override_reason", "due_on", "recheck_on", "private")
        before = audit.snapshot(current, *fields)
        suspects = current.private or given == Verdict.REPORT
        tasks.retire(current, by=by, now=now, reason=reason, hushed=suspects)
        current.override, current.override_by, current.override_at = (
            given.value,
            by,
            now,
        )
        current.override_reason = reason
        current.due_on = day_after(current.inspection.seen_on, due)
        current.recheck_on = day_after(current.inspection.seen_on, usual[1])
        current.private = suspects
        audit.save(
            Verb.OVERRIDE,
            current,
            by=by,
            now=now,
            fields=(*fields, "override_by", "override_at"),
            before=before,
            after=audit.snapshot(current, *fields),
            reason=current.override_reason,
        )
        called = Overridden(given, due, usual[1], (current.override_reason,))
        tasks.open_from_finding(current, called, by=by, now=now)
        if current.private:
            _make_private(current)
            cases.open_for(current, by=by, now=now)
        return current


def _check_override(finding: Finding, given: Verdict, reason: str) -> str:
    """Return the reason as it is kept, where a finding can be given this verdict."""
    if not finding.inspection.is_current:
        raise Refused(
            _("This record was changed in the meantime. Open the newest version."),
            code="not_current",
        )
    reason = require_reason(reason)
    if given == finding.standing_verdict:
        raise Refused(
            _("It has this verdict already. Choose another, or cancel."),
            code="no_other_verdict",
            field="verdict",
        )
    if finding.standing_verdict == Verdict.REPORT:
        raise Refused(
            _("A suspected regulated pest is answered by closing its case."),
            code="report_must_stay",
            field="verdict",
        )
    return reason


def _make_private(finding: Finding) -> None:
    inspection = finding.inspection
    inspection.has_private = True
    inspection.save(update_fields=["has_private"])
    inspection.photos.update(private=True, confirmed_sign="")


def settle(
    finding: Finding,
    *,
    by: User,
    now: datetime,
    reason: str,
    sign: str,
    answers: Mapping[str, Any],
    typed: Mapping[str, Any],
) -> Logged:
    """Correct one finding after a second look: another sign, or nothing there."""
    inspection = finding.inspection
    seen = _others(inspection.findings.order_by("pk"), finding)
    if sign:
        seen.append(
            SeenSign(sign=sign, answers=answers, typed=typed, part=finding.part)
        )
    return correct(
        inspection,
        by=by,
        now=now,
        reason=reason,
        findings=seen,
        condition=inspection.condition,
        note=inspection.note,
    )


def _others(findings: Iterable[Finding], finding: Finding) -> list[SeenSign]:
    return [submission.as_seen(other) for other in findings if other.pk != finding.pk]
