"""Which signs a crew mixes up: sums over several people, never whose."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count

from orchard.records.models import Membership, PracticeAnswer
from orchard.science import guide
from orchard.science.figures import days, figure
from orchard.science.guide import Sign
from orchard.services import permissions
from orchard.services.permissions import Deed


@dataclass(frozen=True, slots=True)
class MixUp:
    """A sign that several people took for another one, and how often."""

    sign: Sign
    taken_for: Sign
    times: int


def mix_ups(member: Membership, *, now: datetime) -> list[MixUp]:
    """List what the crew mixes up, most often first.

    Only what so many people mixed up that none of them can be told.

    Raises:
        MayNot: this is not for the member's role.
    """
    permissions.require(member, Deed.SEE_MIX_UPS)
    fewest = round(figure("practice_fewest_people").value)
    rows = (
        PracticeAnswer.objects.filter(
            orchard=member.orchard,
            answered_at__gt=now - days("practice_back_days"),
        )
        .missed()
        .values_list("sign", "taken_for")
        .annotate(times=Count("id"), people=Count("by", distinct=True))
        .filter(people__gte=fewest)
        .order_by("-times", "sign", "taken_for")
    )
    signs = guide.load().signs
    return [
        MixUp(signs[sign], signs[taken_for], times)
        for sign, taken_for, times, _people in rows
        if sign in signs and taken_for in signs
    ]
