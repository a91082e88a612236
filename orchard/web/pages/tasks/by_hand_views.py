"""One-off tasks: asked for by a crew lead or coordinator, and withdrawn."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from orchard.services import permissions, tasks, trees
from orchard.services.errors import Refused
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.tasks.by_hand_forms import OneOffForm, WithdrawalForm
from orchard.web.pages.tasks.many_views import (
    chosen_in,
    place_in,
    report_outcome,
    warn_on_board,
)
from orchard.web.requests import OrchardRequest

# What the boxes of the board post.
CHOSEN = {"task", "group", "band"}


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.PLAN_WORK)
def ask_for_task(request: OrchardRequest) -> HttpResponse:
    place = place_in(request)
    is_sent = "where" in request.POST
    codes = request.GET.get("tree", "")[:40]
    if not is_sent and "at" in request.POST:
        try:
            codes = ", ".join(_codes_meant(request))
        except Refused as refusal:
            return warn_on_board(request, str(refusal))
    form = OneOffForm.for_member(
        request.member,
        blocks=trees.blocks_of(request.orchard),
        takers=tasks.who_may_work(request.orchard),
        today=request.today,
        codes=codes,
        data=request.POST if is_sent else None,
    )
    if form.is_bound and form.is_valid():
        with answers.refusals(form):
            outcome = tasks.ask_for(
                request.orchard,
                form.asked(),
                form.cleaned_data["places"],
                not_for=form.not_for,
                to=form.person,
                by=request.user,
                now=request.now,
                today=request.today,
            )
            text = ngettext("%(n)d task added.", "%(n)d tasks added.", outcome.done)
            return report_outcome(request, outcome, text)
    context = {
        "form": form,
        "at": place.query if "at" in request.POST else None,
        "back_url": place.url(request.orchard.slug),
    }
    return _page(request, form, "tasks/new.html", context)


def _codes_meant(request: OrchardRequest) -> Iterable[str]:
    """Return the codes of the trees chosen on the board, else of all that it shows.

    They are named on the form, so that the task goes to these whatever the board shows
    by the time it is sent.
    """
    if CHOSEN & request.POST.keys():
        chosen = chosen_in(request)
        return dict.fromkeys(task.tree.code for task in chosen if task.tree is not None)
    place = place_in(request)
    shown = tasks.trees_on_board(
        request.member,
        today=request.today,
        filters=place.filters,
        opened=place.opened,
        with_later=place.with_later,
    )
    return [tree.code for tree in shown]


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.PLAN_WORK)
def withdraw(request: OrchardRequest, number: int) -> HttpResponse:
    asked = permissions.task_request_for(request.member, number)
    rows = tasks.open_tasks_of(asked)
    data = request.POST if request.method == "POST" else None
    form = WithdrawalForm.for_tasks(rows, data)
    if form.is_bound and form.is_valid():
        with answers.refusals(form):
            outcome = tasks.withdraw_request(
                asked,
                form.cleaned_data["tasks"],
                by=request.user,
                now=request.now,
                today=request.today,
                reason=form.cleaned_data["reason"],
            )
            text = ngettext(
                "%(n)d task withdrawn.", "%(n)d tasks withdrawn.", outcome.done
            )
            return report_outcome(request, outcome, text)
    context = {
        "form": form,
        "asked": asked,
        "rows": rows,
        "heading": _("Withdraw: %(title)s") % {"title": asked.title},
        "back_url": place_in(request).url(request.orchard.slug),
        "back_label": _("Board"),
        "button": _("Withdraw"),
    }
    return _page(request, form, "tasks/withdrawal.html", context)


def _page(
    request: OrchardRequest, form: Any, template: str, context: dict[str, Any]
) -> HttpResponse:
    if form.is_bound:
        return answers.refused_page(request, template, context)
    return render(request, template, context)
