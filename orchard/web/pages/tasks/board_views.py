"""The board: open tasks by job, filtered, each job opened to its tasks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from orchard.records.models import Task
from orchard.services import permissions, tasks
from orchard.services.permissions import Deed
from orchard.services.tasks import Board, BoardBand, BoardFilters, GroupLine
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.tasks import wording
from orchard.web.pages.tasks.board_place import BoardPlace
from orchard.web.requests import OrchardRequest


@dataclass(frozen=True, slots=True)
class FilterOption:
    value: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class BoardLine:
    """A line of the board in words, with the addresses that open and close it."""

    group: GroupLine
    where: str
    # The name of its box.
    choose: str
    takes: str
    who: str
    is_open: bool
    # Opens it, or closes it where it is open.
    url: str
    first_url: str
    further_url: str
    # Why, where it is the same for all tasks shown.
    shared_because: str


@dataclass(frozen=True, slots=True)
class BandOfLines:
    """A band of the board; `url` opens or folds the band that is folded at first."""

    key: BoardBand
    name: str
    lines: tuple[BoardLine, ...]
    # All of the band, on whatever page its lines are.
    tasks: int
    # Its first lines are on the page before.
    goes_on: bool


@require_safe
@door(Deed.SEE)
def board(request: OrchardRequest) -> HttpResponse:
    place = BoardPlace.read(request.GET.dict())
    shown = tasks.board_for(
        request.member,
        today=request.today,
        filters=place.filters,
        opened=place.opened,
        after=place.after,
        with_later=place.with_later,
        lines_after=place.lines_after,
    )
    place = replace(place, lines_after=shown.lines_after)
    works = permissions.may(request.member, Deed.WORK)
    context = {
        "board": shown,
        "bands": bands_of(request, shown, place),
        "place": place,
        "filters": place.filters,
        "today": request.today,
        "works": works,
        "hands_over": permissions.may(request.member, Deed.HAND_OVER),
        "keeps_details": permissions.may(request.member, Deed.KEEP_RULES),
        "work_this_week": wording.time_taken(shown.minutes_this_week),
        "later_url": later_url(request, place),
        **lines_urls(request, shown, place),
        **choices(request, shown, place.filters),
    }
    return answers.page_or_part(
        request, "tasks/board.html", "tasks/_board_lines.html", context
    )


@require_safe
@door(Deed.SEE)
def print_board(request: OrchardRequest) -> HttpResponse:
    place = BoardPlace.read(request.GET.dict())
    printed = tasks.board_to_print(
        request.member,
        today=request.today,
        filters=place.filters,
        opened=place.opened,
    )
    context = {
        "printed": printed,
        "today": request.today,
        "back_url": place.url(request.orchard.slug),
    }
    return render(request, "tasks/board_print.html", context)


def bands_of(
    request: OrchardRequest, shown: Board, place: BoardPlace
) -> list[BandOfLines]:
    """Return the bands that have lines, each line in words."""
    names = {
        BoardBand.DANGER: (_("Tonight or people in danger"), shown.danger),
        BoardBand.DUE: (_("Late and due soon"), shown.due),
        BoardBand.LATER: (_("Later"), shown.later or ()),
    }
    return [
        BandOfLines(
            band,
            name,
            tuple(lines_of(request, lines, place)),
            shown.tasks_in[band],
            goes_on=shown.lines_after.startswith(f"{band}-"),
        )
        for band, (name, lines) in names.items()
        if lines
    ]


def lines_of(
    request: OrchardRequest, lines: Iterable[GroupLine], place: BoardPlace
) -> Iterable[BoardLine]:
    slug = request.orchard.slug
    for line in lines:
        is_open = bool(line.rows)
        url = place.opening(None if is_open else line.key).url(slug)
        first_url = further_url = ""
        if is_open and place.after:
            first_url = place.opening(line.key).url(slug)
        if line.next_key:
            further_url = place.opening(line.key, line.next_key).url(slug)
        reasons = {row.because for row in line.rows}
        where = wording.where(line)
        yield BoardLine(
            group=line,
            where=where,
            choose=_("Choose %(name)s, %(where)s")
            % {"name": line.name, "where": where},
            takes=wording.time_taken(line.minutes),
            who=wording.who_has(line, request.user),
            is_open=is_open,
            url=url,
            first_url=first_url,
            further_url=further_url,
            shared_because=reasons.pop() if len(reasons) == 1 else "",
        )


def lines_urls(
    request: OrchardRequest, shown: Board, place: BoardPlace
) -> dict[str, str]:
    """Return the addresses of the first and of the next page of lines, or ""."""
    slug = request.orchard.slug
    first, further = place.turned_to(""), place.turned_to(shown.next_lines)
    return {
        "first_lines_url": first.url(slug) if shown.lines_after else "",
        "further_lines_url": further.url(slug) if shown.next_lines else "",
    }


def later_url(request: OrchardRequest, place: BoardPlace) -> str:
    """Return the address that unfolds what is due later, or folds it again."""
    turned = BoardPlace(place.filters, with_later=not place.with_later)
    return turned.url(request.orchard.slug)


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
    blocks += [(choice.code, f"{choice.code} {choice.name}") for choice in shown.blocks]
    blocks += [(tasks.NO_BLOCK, _("no block"))]
    kinds = [
        ("", _("all tasks")),
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
