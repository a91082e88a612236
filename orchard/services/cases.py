"""Cases: a suspected regulated pest is kept private, and nothing leaves the tree."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Case, Finding, Task, User
from orchard.services import audit, permissions
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.permissions import Deed
from orchard.services.tasks import close as close_task
from orchard.services.tasks import fall_away


def open_for(finding: Finding, *, by: User, now: datetime) -> Case:
    """Open a case for a finding to be reported, or return the one that is open."""
    with transaction.atomic():
        open_ones = Case.objects.open().filter(tree=finding.tree)
        held: Case | None = open_ones.filter(sign=finding.sign).first()
        if held is not None:
            return held
        tree = finding.tree
        case = Case(
            orchard=tree.orchard,
            tree=tree,
            sign=finding.sign,
            finding=finding,
            opened_at=now,
            opened_by=by,
        )
        return audit.save(
            Verb.OPEN,
            case,
            by=by,
            now=now,
            fields=("sign", "finding_id"),
            private=True,
        )


def close(case: Case, *, by: User, now: datetime, outcome: str) -> Case:
    """Close a case with the authority's answer; report and next look end with it.

    What was private stays private: an answer is no leave to tell the story.

    Raises:
        Refused (already_closed): it has its answer.
        Refused (outcome_missing): no answer is given.
        MayNot: the person is no coordinator of this orchard.
    """
    permissions.require(permissions.member_for(by, case.orchard.slug), Deed.KEEP_RULES)
    outcome = outcome.strip()
    if not outcome:
        raise Refused(
            _("Say what the authority answered: found, not found, what to do."),
            code="outcome_missing",
            field="outcome",
        )
    with transaction.atomic():
        held = (
            Case.objects.select_for_update(of=("self",))
            .select_related("orchard", "tree")
            .get(pk=case.pk)
        )
        if held.closed_at is not None:
            raise Refused(
                _("This case was closed before; read its outcome."),
                code="already_closed",
            )
        held.closed_at, held.closed_by, held.outcome = now, by, outcome[:500]
        held.full_clean(exclude=["orchard", "tree", "finding", "opened_by"])
        held.save(update_fields=["closed_at", "closed_by", "outcome"])
        _end_its_work(held, by=by, now=now)
        audit.write(
            Verb.CLOSE,
            held,
            by=by,
            now=now,
            orchard=held.orchard,
            tree=held.tree,
            after=audit.snapshot(held, "outcome", "closed_at"),
            reason=held.outcome,
            private=True,
        )
        return held


def _end_its_work(case: Case, *, by: User, now: datetime) -> None:
    """Call the report done, and let fall the look that nobody else may see or close."""
    tasks = Task.objects.open().filter(tree=case.tree, private=True)
    today = now.astimezone(ZoneInfo(case.orchard.time_zone)).date()
    said = {"number": case.pk, "outcome": case.outcome}
    for report in tasks.filter(kind=Task.Kind.REPORT, key=case.sign):
        evidence = _("Case %(number)d closed.") % said
        close_task(report, by=by, now=now, today=today, evidence=evidence)
    for look in tasks.filter(kind=Task.Kind.LOOK, key=case.sign):
        reason = (_("Case %(number)d closed: %(outcome)s") % said)[:500]
        fall_away(look, by=by, now=now, today=today, reason=reason)
