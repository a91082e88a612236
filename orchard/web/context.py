"""What every page of an orchard knows: the menu, the role, the notices."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.contrib.messages import get_messages
from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy

from orchard import __version__
from orchard.records.models import Membership
from orchard.services import permissions
from orchard.services.permissions import Deed, may

Role = Membership.Role


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


@dataclass(frozen=True, slots=True)
class Menu:
    """What stands in the menu, and the rest, which "This orchard" leads to."""

    entries: tuple[MenuEntry, ...] = ()
    more: tuple[MenuEntry, ...] = ()


# Each page with the deed that opens it and the roles that have it in their menu.
PAGES = (
    (_lazy("Today"), "home", Deed.SEE, frozenset(Role)),
    (_lazy("Board"), "board", Deed.SEE, frozenset(Role)),
    (_lazy("Rounds"), "rounds", Deed.INSPECT, frozenset(Role)),
    (_lazy("Trees"), "trees", Deed.SEE, frozenset(Role)),
    (_lazy("Outlook"), "outlook", Deed.SEE, frozenset(Role)),
    (_lazy("Guide"), "guide", Deed.SEE, frozenset(Role)),
    (_lazy("Practice"), "practice", Deed.SEE, frozenset[Role]()),
    (_lazy("How to look"), "first-day", Deed.SEE, {Role.VOLUNTEER}),
    (_lazy("Photos"), "photos", Deed.SEE, {Role.EDUCATOR}),
    (_lazy("Second looks"), "second-looks", Deed.SECOND_LOOK, {Role.LEAD}),
    (_lazy("Cases"), "cases", Deed.SEE_PRIVATE, {Role.COORDINATOR}),
    (_lazy("Ledger"), "ledger", Deed.READ_LEDGER, {Role.OFFICE}),
    (_lazy("My second looks"), "my-second-looks", Deed.INSPECT, frozenset[Role]()),
    (_lazy("Inspections"), "inspections", Deed.SEE, frozenset[Role]()),
    (_lazy("Treatments"), "treatments", Deed.SEE, frozenset[Role]()),
    (_lazy("Products"), "products", Deed.SEE, frozenset[Role]()),
    (_lazy("Photos without a tree"), "strays", Deed.INSPECT, frozenset[Role]()),
    (_lazy("Talk sets"), "talks", Deed.SEE, frozenset[Role]()),
    (_lazy("Harvests"), "harvests", Deed.SEE, frozenset[Role]()),
    (_lazy("Weather"), "weather", Deed.SEE, frozenset[Role]()),
    (_lazy("Growth stages"), "stages", Deed.SEE, frozenset[Role]()),
    (_lazy("Blocks and spots"), "blocks", Deed.SEE, frozenset[Role]()),
    (_lazy("Cultivars"), "kinds", Deed.SEE, frozenset[Role]()),
    (_lazy("Pests of this area"), "pests", Deed.SEE, frozenset[Role]()),
    (_lazy("House rules"), "house-rules", Deed.SEE, frozenset[Role]()),
    (_lazy("Care plan"), "care-plan", Deed.KEEP_RULES, frozenset[Role]()),
    (_lazy("People"), "people", Deed.KEEP_PEOPLE, frozenset[Role]()),
)


def house(request: HttpRequest) -> dict[str, Any]:
    """Return the menu, the orchard, the member and what just happened."""
    member = getattr(request, "member", None)
    return {
        "orchard": getattr(request, "orchard", None),
        "member": member,
        "menu": menu_for(request, member) if member else Menu(),
        "keeps_talks": member is not None and may(member, Deed.KEEP_TALKS),
        "shell": "inside.html" if member else "outside.html",
        "coordinators": SimpleLazyObject(lambda: coordinators_for(member)),
        "notices": SimpleLazyObject(lambda: notices_of(request)),
        "explained": set(),
        "version": __version__,
    }


def menu_for(request: HttpRequest, member: Membership) -> Menu:
    """Return the pages that a member's role uses daily, and the others it may open."""
    slug = member.orchard.slug
    entries: list[MenuEntry] = []
    more: list[MenuEntry] = []
    for label, name, deed, roles in PAGES:
        if may(member, deed):
            url = address_of(name, slug)
            here = request.path == url or (
                name != "home" and request.path.startswith(url)
            )
            part = entries if Role(member.role) in roles else more
            part.append(MenuEntry(str(label), url, here))
    url = address_of("orchard-details", slug)
    here = request.path == url or any(entry.current for entry in more)
    here = here and not any(entry.current for entry in entries)
    entries.append(MenuEntry(_("This orchard"), url, here))
    return Menu(tuple(entries), tuple(more))


@lru_cache(maxsize=2048)
def address_of(name: str, slug: str) -> str:
    """Return the address of a page of the menu; each page asks for nearly thirty."""
    return reverse(name, args=[slug])


def coordinators_for(member: Membership | None) -> list[str]:
    """Return the names of those who can help a member: the orchard's coordinators."""
    if member is None:
        return []
    return [user.name for user in permissions.coordinators_of(member.orchard)]


def is_brought_along(request: HttpRequest) -> bool:
    """Tell whether a script asks for a whole page, as no journey and no swap does.

    Source: W3C, Fetch Metadata Request Headers, Sec-Fetch-Dest and Sec-Fetch-Mode. A
    browser that sends neither is taken at its word.
    """
    asked_by_script = request.headers.get("Sec-Fetch-Dest") == "empty"
    is_journey = request.headers.get("Sec-Fetch-Mode") == "navigate"
    return asked_by_script and not is_journey and "HX-Request" not in request.headers


def notices_of(request: HttpRequest) -> list[Notice]:
    """Return what just happened, each with the way to undo it, if there is one.

    A page that is brought along to be kept does not say it: nobody looks at it now, and
    it would say so days later.
    """
    if is_brought_along(request):
        return []
    return [
        Notice(
            text=str(message.message),
            level=message.level_tag,
            undo_url=message.extra_tags or "",
        )
        for message in get_messages(request)
    ]
