"""Second looks: a finding its observer was not sure of, and the answer to it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Orchard, SecondLook, User
from orchard.services import access, correcting, ledger
from orchard.services.access import Deed
from orchard.services.aftermath import ask
from orchard.services.refusal import Refused

__all__ = ["answer", "ask", "waiting"]

Answer = SecondLook.Answer


class AlreadyAnswered(Refused):
    """Somebody has looked."""


class OwnEyes(Refused):
    """A second look needs a second person."""


class NamesNoSign(Refused):
    """Something else is said, but not what."""


class NoLongerStands(Refused):
    """The finding was corrected or withdrawn in the meantime."""


def waiting(orchard: Orchard) -> list[SecondLook]:
    """Return the looks still to be taken, the longest waiting first."""
    return list(
        SecondLook.objects.filter(
            orchard=orchard,
            answered_at=None,
            finding__inspection__superseded_at=None,
            finding__inspection__withdrawn_at=None,
        )
        .select_related("finding__inspection__by", "finding__tree__kind")
        .order_by("asked_at", "pk")
    )


def answer(
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
        AlreadyAnswered, OwnEyes, NamesNoSign, NoLongerStands: as their names say.
        MayNot: the person's role gives no second looks.
    """
    access.require(access.member_for(by, look.orchard.slug), Deed.SECOND_LOOK)
    with transaction.atomic():
        held = (
            SecondLook.objects.select_for_update(of=("self",))
            .select_related("finding__inspection", "finding__tree", "orchard")
            .get(pk=look.pk)
        )
        _check(held, by=by, answer=answer, sign=sign)
        held.answered_at, held.answered_by = now, by
        held.answer, held.note = answer, note.strip()
        held.full_clean(exclude=["finding", "orchard", "answered_by"])
        held.save(update_fields=["answered_at", "answered_by", "answer", "note"])
        ledger.write(
            "answer",
            held,
            by=by,
            now=now,
            orchard=held.orchard,
            tree=held.finding.tree,
            after=ledger.snapshot(held, "answer", "note"),
            private=held.finding.private,
        )
        if answer in (Answer.OTHER, Answer.NOTHING):
            correcting.settle(
                held.finding,
                by=by,
                now=now,
                reason=_("Second look: %(said)s. %(note)s")
                % {"said": held.get_answer_display(), "note": held.note},
                sign=sign if answer == Answer.OTHER else "",
                answers=answers or {},
                typed=typed or {},
            )
        return held


def _check(look: SecondLook, *, by: User, answer: str, sign: str) -> None:
    if look.answered_at is not None:
        raise AlreadyAnswered(
            _("%(name)s has answered this look already.")
            % {"name": look.answered_by.name if look.answered_by else ""}
        )
    if not look.finding.inspection.is_current:
        raise NoLongerStands(
            _("This finding was corrected or withdrawn in the meantime.")
        )
    if look.finding.inspection.by_id == by.pk:
        raise OwnEyes(
            _("It is your own finding. A second look needs somebody else's eyes.")
        )
    if answer == Answer.OTHER and (not sign or sign == look.finding.sign):
        raise NamesNoSign(_("Say what it is instead."), field="sign")
