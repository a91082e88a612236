"""Second looks: a finding its observer was not sure of, and the answer to it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import Finding, Membership, Orchard, SecondLook, User
from orchard.services import audit, permissions
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.inspections import correction
from orchard.services.inspections.side_effects import ask
from orchard.services.permissions import Deed

__all__ = [
    "answer_second_look",
    "answers_for",
    "asked_by",
    "ask",
    "open_second_looks",
    "second_looks_of",
]

Answer = SecondLook.Answer


def open_second_looks(orchard: Orchard) -> QuerySet[SecondLook]:
    """Return the looks still to be taken, the longest waiting first."""
    return (
        SecondLook.objects.filter(
            orchard=orchard,
            answered_at=None,
            finding__inspection__superseded_at=None,
            finding__inspection__withdrawn_at=None,
        )
        .select_related("finding__inspection__by", "finding__tree__kind")
        .order_by("asked_at", "pk")
    )


def asked_by(member: Membership) -> QuerySet[SecondLook]:
    """Return the second looks at what a member saw: answered, or waiting still.

    A finding that was corrected or withdrawn before anybody answered waits no more.
    """
    rows = SecondLook.objects.filter(
        Q(answered_at__isnull=False)
        | Q(
            finding__inspection__superseded_at=None,
            finding__inspection__withdrawn_at=None,
        ),
        orchard=member.orchard,
        finding__inspection__by=member.user,
    )
    return rows.select_related("finding__inspection", "finding__tree", "answered_by")


def answers_for(member: Membership, *, since: datetime) -> tuple[SecondLook, ...]:
    """Return the answers to a member's second looks since a time, the newest first."""
    rows = asked_by(member).filter(answered_at__gte=since)
    return tuple(rows.order_by("-answered_at", "-pk"))


def second_looks_of(findings: Iterable[Finding]) -> dict[int, SecondLook]:
    """Return the second looks at findings, by the id of the finding."""
    looks = SecondLook.objects.filter(finding__in=list(findings))
    return {look.finding_id: look for look in looks.select_related("answered_by")}


def answer_second_look(
    look: SecondLook,
    *,
    by: User,
    now: datetime,
    answer: str,
    note: str = "",
    sign: str = "",
    answers: Mapping[str, Any] | None = None,
    typed: Mapping[str, Any] | None = None,
) -> SecondLook:
    """Answer a second look; another sign or none becomes a correction by who looked.

    The original finding stays readable with its author. `sign` and `answers` tell what
    it is when the answer is "other".

    Raises:
        Refused (already_answered), own_finding, names_no_sign, not_current: as their
            names say.
        MayNot: the person's role gives no second looks.
    """
    permissions.require(permissions.member_for(by, look.orchard.slug), Deed.SECOND_LOOK)
    with transaction.atomic():
        current = (
            SecondLook.objects.select_for_update(of=("self",), no_key=True)
            .select_related("finding__inspection", "finding__tree", "orchard")
            .get(pk=look.pk)
        )
        _check(current, by=by, answer=answer, sign=sign)
        current.answered_at, current.answered_by = now, by
        current.answer, current.note = answer, note.strip()
        audit.save(
            Verb.ANSWER,
            current,
            by=by,
            now=now,
            tree=current.finding.tree,
            after=audit.snapshot(current, "answer", "note"),
            # Another sign may be one to report, and the note may name it.
            private=current.finding.private or answer == Answer.OTHER,
        )
        if answer in (Answer.OTHER, Answer.NOTHING):
            correction.settle(
                current.finding,
                by=by,
                now=now,
                reason=_("Second look: %(answer)s. %(note)s")
                % {"answer": current.get_answer_display(), "note": current.note},
                sign=sign if answer == Answer.OTHER else "",
                answers=answers or {},
                typed=typed or {},
            )
        return current


def _check(look: SecondLook, *, by: User, answer: str, sign: str) -> None:
    if look.answered_at is not None:
        raise Refused(
            _("%(name)s has answered this second look already.")
            % {"name": look.answered_by.name if look.answered_by else ""},
            code="already_answered",
        )
    if not look.finding.inspection.is_current:
        raise Refused(
            _("This finding was corrected or withdrawn in the meantime."),
            code="not_current",
        )
    if look.finding.inspection.by_id == by.pk:
        raise Refused(
            _("It is your own finding. Somebody else must take the second look."),
            code="own_finding",
        )
    if answer == Answer.OTHER and (not sign or sign == look.finding.sign):
        raise Refused(_("Say what it is instead."), code="names_no_sign", field="sign")
