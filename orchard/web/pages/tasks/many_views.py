"""Deeds on many tasks of the board: chosen there, confirmed here, undone at once.

Boxes of the board say what is chosen. A deed that asks for more shows a page for it,
which names the tasks one by one, so that what was read is what is changed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from orchard.records.models import BulkChange, Task
from orchard.services import permissions, tasks
from orchard.services.errors import Refused
from orchard.services.permissions import Deed
from orchard.services.tasks import BoardBand, BulkOutcome, GroupKey
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.tasks import wording
from orchard.web.pages.tasks.board_place import BoardPlace
from orchard.web.pages.tasks.forms import (
    CloseManyForm,
    HandOverManyForm,
    MoveManyForm,
    SkipManyForm,
)
from orchard.web.requests import OrchardRequest

# What the page of a deed posts: the numbers of the tasks it named.
NAMED = "named"

# Taken back by whoever may do the deed itself, still.
TO_UNDO: dict[str, Deed] = {
    BulkChange.Deed.HAND_OVER: Deed.HAND_OVER,
    BulkChange.Deed.MOVE_DAY: Deed.PLAN_WORK,
    BulkChange.Deed.MAKE: Deed.PLAN_WORK,
}


@require_POST
@door(Deed.WORK)
def take_chosen(request: OrchardRequest) -> HttpResponse:
    def take(chosen: Sequence[Task]) -> HttpResponse:
        outcome = tasks.take_many(chosen, by=request.user, now=request.now)
        text = ngettext("%(n)d task taken.", "%(n)d tasks taken.", outcome.done)
        return report_outcome(request, outcome, text)

    return on_chosen(request, take)


@require_POST
@door(Deed.WORK)
def close_chosen(request: OrchardRequest) -> HttpResponse:
    data = asked(request)
    files = request.FILES if data is not None else None
    form = CloseManyForm(data, files, initial={"done_on": request.today})
    form.fields["done_on"].widget.attrs["max"] = request.today.isoformat()

    def close(chosen: Sequence[Task], **fields: Any) -> HttpResponse:
        outcome = tasks.close_many(
            chosen, by=request.user, now=request.now, today=request.today, **fields
        )
        text = ngettext("%(n)d task closed.", "%(n)d tasks closed.", outcome.done)
        return report_outcome(request, outcome, text)

    words = {"heading": _("Close tasks"), "button": _("Close tasks")}
    return asked_of_chosen(request, form, close, words)


@require_POST
@door(Deed.WORK)
def skip_chosen(request: OrchardRequest) -> HttpResponse:
    def skip(chosen: Sequence[Task], **fields: Any) -> HttpResponse:
        outcome = tasks.skip_many(
            chosen, by=request.user, now=request.now, today=request.today, **fields
        )
        text = ngettext("%(n)d task skipped.", "%(n)d tasks skipped.", outcome.done)
        return report_outcome(request, outcome, text)

    words = {"heading": _("Skip tasks"), "button": _("Skip tasks")}
    return asked_of_chosen(request, SkipManyForm(asked(request)), skip, words)


@require_POST
@door(Deed.HAND_OVER)
def hand_over_chosen(request: OrchardRequest) -> HttpResponse:
    members = tasks.who_may_work(request.orchard)
    form = HandOverManyForm(asked(request), members=members)

    def hand_over(chosen: Sequence[Task], **fields: Any) -> HttpResponse:
        outcome = tasks.hand_over_many(
            chosen, by=request.user, now=request.now, **fields
        )
        text = ngettext("%(n)d task assigned.", "%(n)d tasks assigned.", outcome.done)
        return report_outcome(request, outcome, text)

    words = {"heading": _("Assign tasks"), "button": _("Assign tasks")}
    return asked_of_chosen(request, form, hand_over, words)


@require_POST
@door(Deed.PLAN_WORK)
def move_chosen(request: OrchardRequest) -> HttpResponse:
    form = MoveManyForm(asked(request), initial={"due_on": request.today})
    form.fields["due_on"].widget.attrs["min"] = request.today.isoformat()

    def move(chosen: Sequence[Task], **fields: Any) -> HttpResponse:
        outcome = tasks.move_many(
            chosen, by=request.user, now=request.now, today=request.today, **fields
        )
        text = ngettext("%(n)d task moved.", "%(n)d tasks moved.", outcome.done)
        return report_outcome(request, outcome, text)

    words = {"heading": _("Move day"), "button": _("Move day")}
    return asked_of_chosen(request, form, move, words)


@require_POST
@door(Deed.WORK)
def undo_chosen(request: OrchardRequest, number: int) -> HttpResponse:
    change = permissions.bulk_change_for(request.member, number)
    permissions.require(request.member, TO_UNDO.get(change.deed, Deed.WORK))
    try:
        outcome = tasks.undo_many(change, by=request.user, now=request.now)
    except Refused as refusal:
        return warn_on_board(request, str(refusal))
    text = ngettext(
        "%(n)d task is as it was.", "%(n)d tasks are as they were.", outcome.done
    )
    return report_outcome(request, outcome, text)


def place_in(request: OrchardRequest) -> BoardPlace:
    return BoardPlace.read_query(request.POST.get("at") or request.GET.get("at", ""))


def asked(request: OrchardRequest) -> Any:
    """Return what a deed's own page posted; None when it comes from the board."""
    return request.POST if NAMED in request.POST else None


def chosen_in(request: OrchardRequest) -> list[Task]:
    """Return the tasks that were chosen on the board, or named on a deed's page."""
    posted = request.POST
    numbers = [*posted.getlist("task"), *posted.get(NAMED, "").split(",")]
    groups = [GroupKey.read(text) for text in posted.getlist("group")]
    return tasks.choose_tasks(
        request.member,
        today=request.today,
        filters=place_in(request).filters,
        numbers=[int(text) for text in numbers if is_number(text)],
        groups=[group for group in groups if group is not None],
        bands=[
            BoardBand(name) for name in posted.getlist("band") if name in set(BoardBand)
        ],
    )


def is_number(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) < 16


def on_chosen(
    request: OrchardRequest, deed: Callable[[Sequence[Task]], HttpResponse]
) -> HttpResponse:
    """Do a deed with what was chosen; say on the board when it cannot be."""
    try:
        return deed(chosen_in(request))
    except Refused as refusal:
        return warn_on_board(request, str(refusal))


def asked_of_chosen(
    request: OrchardRequest,
    form: Form,
    deed: Callable[..., HttpResponse],
    words: dict[str, str],
) -> HttpResponse:
    """Ask what a deed needs to know, then do it with the tasks that were named."""

    def ask(chosen: Sequence[Task]) -> HttpResponse:
        if form.is_bound and form.is_valid():
            with answers.refusals(form):
                return deed(chosen, **form.cleaned_data)
        place = place_in(request)
        context = {
            **words,
            "form": form,
            "chosen": chosen,
            "jobs": jobs_of(chosen),
            "named": ",".join(str(task.pk) for task in chosen),
            "at": place.query,
            "back_url": place.url(request.orchard.slug),
            "back_label": _("Board"),
        }
        status = 422 if form.is_bound else 200
        return render(request, "tasks/many.html", context, status=status)

    return on_chosen(request, ask)


def jobs_of(chosen: Sequence[Task]) -> list[tuple[str, list[Task]]]:
    """Return chosen tasks under the names of their jobs."""
    named = [(tasks.work_name(task), task) for task in chosen]
    named.sort(key=lambda pair: pair[0])
    return [
        (name, [task for _name, task in rows])
        for name, rows in groupby(named, key=lambda pair: pair[0])
    ]


def report_outcome(
    request: OrchardRequest, outcome: BulkOutcome, text: str
) -> HttpResponse:
    """Say on the board what was done and what was left, and offer the undo."""
    left = wording.left_as_they_were(outcome.left)
    if not outcome.done:
        return warn_on_board(request, f"{_('Nothing was changed.')} {left}")
    undo = ""
    if outcome.change is not None:
        undo = reverse("board-undo", args=[request.orchard.slug, outcome.change.pk])
        undo = f"{undo}?{place_in(request).back_query}"
    text = f"{text % {'n': outcome.done}} {left}".strip()
    url = place_in(request).url(request.orchard.slug)
    return answers.done(request, text, to=url, undo_url=undo)


def warn_on_board(request: OrchardRequest, text: str) -> HttpResponse:
    messages.warning(request, text)
    return redirect(place_in(request).url(request.orchard.slug))
