"""Whose sheet of paper is being entered, and of which day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.urls import reverse

from orchard.records.models import User
from orchard.services import permissions
from orchard.web.requests import OrchardRequest

FOR, ON = "for", "on"


@dataclass(frozen=True, slots=True)
class PaperSheet:
    """The person and the day that a row of entries is about."""

    person: User
    day: date
    slug: str

    @property
    def query(self) -> str:
        return urlencode({FOR: self.person.pk, ON: self.day.isoformat()})

    @property
    def url(self) -> str:
        """Return the page on which the next tree is entered."""
        return f"{reverse('paper', args=[self.slug])}?{self.query}"

    def moment(self, time_zone: str, now: datetime) -> datetime:
        """Return the moment that stands for its day: noon, if that has come."""
        noon = datetime.min.time().replace(hour=12)
        return min(datetime.combine(self.day, noon, ZoneInfo(time_zone)), now)


def sheet_in(request: OrchardRequest) -> PaperSheet | None:
    """Read from a page's address or form whose sheet it belongs to, if to any.

    Raises:
        MayNot: the member may not write for others.
        NotThere: the person never belonged here.
    """
    number = request.POST.get(FOR) or request.GET.get(FOR, "")
    if not (number.isascii() and number.isdecimal() and len(number) < 16):
        return None
    person = permissions.written_for(request.member, int(number))
    try:
        day = date.fromisoformat(request.POST.get(ON) or request.GET.get(ON, ""))
    except ValueError:
        day = request.today
    return PaperSheet(person, min(day, request.today), request.orchard.slug)
