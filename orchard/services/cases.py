"""Cases: a suspected regulated pest is kept private, and nothing leaves the tree."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.days import day_in
from orchard.records.models import Case, CaseCall, Finding, Membership, Task, Tree, User
from orchard.services import audit, permissions
from orchard.services.audit import Verb
from orchard.services.errors import NotThere, Refused
from orchard.services.paging import Page, page_by_key
from orchard.services.permissions import Deed
from orchard.services.tasks import close as close_task
from orchard.services.tasks import fall_away, open_put_off

# A warning by telephone may come before the case.
EARLIEST_CALL = timedelta(days=365)
CASES_PAGE = 25


def open_for(finding: Finding, *, by: User, now: datetime) -> Case:
    """Open a case for a finding to be reported, or return the one that is open."""
    with transaction.atomic():
        open_ones = Case.objects.open().filter(tree=finding.tree)
        locked: Case | None = open_ones.filter(sign=finding.sign).first()
        if locked is not None:
            return locked
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

    Work that other looks called for meanwhile opens now.

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
        locked = (
            Case.objects.select_for_update(of=("self",), no_key=True)
            .select_related("orchard", "tree")
            .get(pk=case.pk)
        )
        if locked.closed_at is not None:
            raise Refused(
                _("This case was closed before; read its outcome."),
                code="already_closed",
            )
        locked.closed_at, locked.closed_by, locked.outcome = now, by, outcome[:500]
        audit.save(
            Verb.CLOSE,
            locked,
            by=by,
            now=now,
            fields=["closed_at", "closed_by", "outcome"],
            after=audit.snapshot(locked, "outcome", "closed_at"),
            reason=locked.outcome,
            private=True,
        )
        _end_its_work(locked, by=by, now=now)
        zone = ZoneInfo(locked.orchard.time_zone)
        open_put_off(
            locked.tree,
            since=locked.opened_at,
            by=by,
            now=now,
            today=now.astimezone(zone).date(),
        )
        return locked


def note_call(
    case: Case,
    *,
    by: User,
    now: datetime,
    caller: str,
    called: str,
    called_at: datetime,
    summary: str,
) -> CaseCall:
    """Keep who called whom about a case, when, and what was said.

    Raises:
        Refused (already_closed): the case has its answer.
        Refused (in_future): the call lies ahead.
        Refused (too_early): it lies more than a year before the case.
        MayNot: the person does not lead in this orchard.
    """
    member = permissions.member_for(by, case.orchard.slug)
    permissions.require(member, Deed.SEE_PRIVATE)
    if case.closed_at is not None:
        raise Refused(
            _("This case was closed before; read its outcome."), code="already_closed"
        )
    if called_at > now:
        raise Refused(
            _("This time is in the future. Enter when the call was."),
            code="in_future",
            field="called_at",
        )
    if called_at < case.opened_at - EARLIEST_CALL:
        raise Refused(
            _(
                "This is more than a year before the case was opened."
                " Enter when the call was."
            ),
            code="too_early",
            field="called_at",
        )
    call = CaseCall(
        case=case,
        caller=caller.strip(),
        called=called.strip(),
        called_at=called_at,
        summary=summary.strip(),
        by=by,
        made_at=now,
    )
    fields = ("caller", "called", "called_at", "summary")
    return audit.save(
        Verb.NOTE, call, by=by, now=now, fields=fields, tree=case.tree, private=True
    )


def calls_about(case: Case) -> list[CaseCall]:
    """Return the calls about a case, the newest first."""
    calls = CaseCall.objects.filter(case=case).select_related("by")
    return list(calls.order_by("-called_at", "-pk"))


def _end_its_work(case: Case, *, by: User, now: datetime) -> None:
    """Call the report done, and let fall the look that nobody else may see or close."""
    tasks = Task.objects.open().filter(tree=case.tree, private=True)
    today = day_in(now, case.orchard.time_zone)
    words = {"number": case.pk, "outcome": case.outcome}
    for report in tasks.filter(kind=Task.Kind.REPORT, key=case.sign):
        evidence = _("Case %(number)d closed.") % words
        close_task(report, by=by, now=now, today=today, evidence=evidence)
    for look in tasks.filter(kind=Task.Kind.LOOK, key=case.sign):
        reason = (_("Case %(number)d closed: %(outcome)s") % words)[:500]
        fall_away(look, by=by, now=now, today=today, reason=reason)


def cases_of(
    member: Membership, *, closed: bool, after: str = "", size: int = CASES_PAGE
) -> Page[Case]:
    """Return a page of an orchard's open or closed cases, the newest first.

    Raises:
        NotThere: the member may not see what is private.
    """
    if not permissions.may(member, Deed.SEE_PRIVATE):
        raise NotThere()
    rows = (
        Case.objects.in_orchard(member.orchard)
        .filter(closed_at__isnull=not closed)
        .select_related("tree__kind", "finding__inspection__by")
    )
    return page_by_key(rows, "-opened_at", "-id", after=after, size=size)


def cases_on(tree: Tree, member: Membership) -> dict[str, Case]:
    """Return a tree's cases by their sign; none to who may not see what is private."""
    if not permissions.may(member, Deed.SEE_PRIVATE):
        return {}
    return {case.sign: case for case in Case.objects.filter(tree=tree)}
