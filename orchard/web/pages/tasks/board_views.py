"""The board: what waits, ranked, filtered, page by page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from orchard.records.models import Task
from orchard.services import permissions, tasks
from orchard.services.permissions import Deed
from orchard.services.tasks import Board, BoardFilters
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.requests import OrchardRequest


@dataclass(frozen=True, slots=True)
class FilterOption:
    value: str
    label: str
    chosen: bool


def asked_for(request: HttpRequest) -> BoardFilters:
    """Read the filters from the address; what makes no sense is left out."""
    asked = request.GET
    person, kind = asked.get("person", ""), asked.get("kind", "")
    is_person = person in ("mine", "nobody") or (
        person.isdecimal() and len(person) < 10
    )
    return BoardFilters(
        block=asked.get("block", "")[:12],
        person=person if is_person else "",
        kind=kind if kind in Task.Kind.values else "",
        late=asked.get("late") == "on",
    )


@require_safe
@door(Deed.SEE)
def board(request: OrchardRequest) -> HttpResponse:
    filters = asked_for(request)
    shown = tasks.board_rows(
        request.member,
        today=request.today,
        filters=filters,
        after=paging.key_in(request),
    )
    context = {
        "board": shown,
        "filters": filters,
        "today": request.today,
        "back": "board",
        "works": permissions.may(request.member, Deed.WORK),
        "is_continued": bool(paging.key_in(request)),
        **choices(request, shown, filters),
        **paging.links(request, shown.next_key),
    }
    return answers.page_or_part(
        request, "tasks/board.html", "tasks/_board_rows.html", context
    )


def choices(
    request: OrchardRequest, shown: Board, filters: BoardFilters
) -> dict[str, list[FilterOption]]:
    """Return what each filter can be set to."""
    people = [("", _("everybody")), ("mine", _("me")), ("nobody", _("unassigned"))]
    people += [
        (str(choice.user_id), choice.user.name)
        for choice in shown.people
        if choice.user_id != request.user.pk
    ]
    blocks = [("", _("everywhere"))]
    blocks += [
        (choice.code, f"{choice.code} {choice.name}")
        for choice in shown.tallies
        if choice.code
    ]
    kinds = [
        ("", _("all work")),
        *((choice.value, choice.label) for choice in Task.Kind),
    ]
    if not permissions.may(request.member, Deed.SEE_PRIVATE):
        kinds = [choice for choice in kinds if choice[0] != Task.Kind.REPORT]

    def chosen(pairs: list[Any], now: str) -> list[FilterOption]:
        return [
            FilterOption(value, str(label), value.lower() == now.lower())
            for value, label in pairs
        ]

    return {
        "blocks": chosen(blocks, filters.block),
        "people": chosen(people, filters.person),
        "kinds": chosen(kinds, filters.kind),
    }
