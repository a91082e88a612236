"""Answers: kept once each, for the person who gave them and nobody else."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Membership, PracticeAnswer
from orchard.science import guide
from orchard.science.words import PracticeLevel
from orchard.services import audit
from orchard.services.errors import Refused
from orchard.services.practice.questions import photos_of


def answer(
    member: Membership,
    *,
    key: uuid.UUID,
    sign: str,
    taken_for: str,
    level: PracticeLevel,
    photo: uuid.UUID | None,
    now: datetime,
) -> PracticeAnswer:
    """Keep what a member took a sign for; nothing for "I don't know".

    The same question sent again gives the answer that was kept first. No line of the
    ledger tells of it: others read that. `photo` names what was shown; one that is no
    picture of the sign any more is left out.

    Raises:
        Refused (unknown_sign): the guide has no such sign.
        Refused (key_taken): another question was answered under this key.
    """
    signs = guide.load().signs
    for name in (sign, taken_for or sign):
        if name not in signs:
            raise Refused(
                _("The guide has no sign “%(sign)s”. Ask for the next question.")
                % {"sign": name[:40]},
                code="unknown_sign",
            )
    shown = None
    if level is PracticeLevel.PHOTO:
        found = photos_of(signs[sign], member.orchard)
        shown = next((row for row in found if row.name == photo), None)
        level = level if shown else PracticeLevel.ALIKE
    with transaction.atomic():
        kept = PracticeAnswer.objects.filter(key=key).first()
        if kept is None:
            kept = PracticeAnswer(
                orchard=member.orchard,
                by=member.user,
                key=key,
                sign=sign,
                taken_for=taken_for,
                level=level,
                photo=shown,
                answered_at=now,
            )
            audit.save_row(kept)
    if (kept.by_id, kept.orchard_id, kept.sign) != (
        member.user_id, member.orchard_id, sign,
    ):  # fmt: skip
        raise Refused(
            _("This question was answered before. Ask for the next one."),
            code="key_taken",
        )
    return kept
