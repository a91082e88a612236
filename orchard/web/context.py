"""What every page of an orchard knows: the menu, the role, the notices."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib.messages import get_messages
from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext as _

from orchard import __version__
from orchard.services.permissions import Deed, may


@dataclass(frozen=True, slots=True)
class MenuEntry:
    label: str
    url: str
    current: bool


@dataclass(frozen=True, slots=True)
class Notice:
    text: str
    level: str
    undo_url: str


def house(request: HttpRequest) -> dict[str, Any]:
    """Return the menu, the orchard, the member and what just happened."""
    member = getattr(request, "member", None)
    return {
        "orchard": getattr(request, "orchard", None),
        "member": member,
        "menu": menu_for(request, member) if member else [],
        "notices": SimpleLazyObject(lambda: notices_of(request)),
        "version": __version__,
    }


def menu_for(request: HttpRequest, member: Any) -> list[MenuEntry]:
    """Return the pages that a member's role has a use for."""
    slug = member.orchard.slug
    rows = [
        (_("Today"), "home", Deed.SEE),
        (_("Board"), "board", Deed.SEE),
        (_("Rounds"), "rounds", Deed.INSPECT),
        (_("Trees"), "trees", Deed.SEE),
        (_("Outlook"), "outlook", Deed.SEE),
        (_("Guide"), "guide", Deed.SEE),
        (_("Photos without a tree"), "strays", Deed.INSPECT),
        (_("Weather"), "weather", Deed.SEE),
        (_("Second looks"), "second-looks", Deed.SECOND_LOOK),
        (_("Cases"), "cases", Deed.SEE_PRIVATE),
        (_("Care plan"), "care-plan", Deed.KEEP_RULES),
        (_("People"), "people", Deed.KEEP_PEOPLE),
        (_("Ledger"), "ledger", Deed.READ_LEDGER),
        (_("This orchard"), "orchard-details", Deed.SEE),
    ]
    entries = []
    for label, name, deed in rows:
        if may(member, deed):
            url = reverse(name, args=[slug])
            here = request.path == url or (
                name != "home" and request.path.startswith(url)
            )
            entries.append(MenuEntry(label, url, here))
    return entries


def notices_of(request: HttpRequest) -> list[Notice]:
    """Return what just happened, each with the way to undo it, if there is one."""
    return [
        Notice(
            text=str(message.message),
            level=message.level_tag,
            undo_url=message.extra_tags or "",
        )
        for message in get_messages(request)
    ]
