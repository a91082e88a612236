"""Ripeness: what is ready to pick, and the tests that say so."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.services import permissions, ripeness
from orchard.services.permissions import Deed, may
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm
from orchard.web.pages.ripeness import charts, wording
from orchard.web.pages.ripeness.forms import RipenessForm
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    rows = [
        (
            row,
            [wording.told(one) for one in row.tests],
            charts.trend(row, f"trend-{number}"),
        )
        for number, row in enumerate(
            ripeness.ripeness_of_kinds(request.orchard, today=request.today)
        )
    ]
    context = {
        "ready": [one for one in rows if one[0].is_ready],
        "coming": [one for one in rows if one[0].is_on and not one[0].is_ready],
        "later": [one for one in rows if not one[0].is_on],
        "may_note": may(request.member, Deed.WORK),
        "mends": may(request.member, Deed.CORRECT_OTHERS),
        "today": request.today,
    }
    return render(request, "ripeness/index.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def new(request: OrchardRequest) -> HttpResponse:
    form = RipenessForm.new(
        tree=request.GET.get("tree", ""),
        today=request.today,
        units=request.orchard.units,
        data=request.POST or None,
    )
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            return _noted(request, **form.cleaned_data)
    return _page(request, "ripeness/new.html", form)


def _noted(request: OrchardRequest, *, tree: str, **said: Any) -> HttpResponse:
    chosen = permissions.tree_typed(request.member, tree)
    tested, opened = ripeness.note_and_open(
        chosen, by=request.user, now=request.now, today=request.today, **said
    )
    told = wording.told(tested)
    text = answers.with_opened(f"{chosen.kind.name}: {told.word}. {told.why}", opened)
    return _to_index(request, text)


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def correction(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.ripeness_test_for(request.member, number)
    permissions.require_own(request.member, row)
    form = RipenessForm.correcting(
        row,
        today=request.today,
        units=request.orchard.units,
        data=request.POST or None,
    )
    return answers.reason_page(
        request,
        form,
        partial(ripeness.correct_test, row, today=request.today),
        heading=_("Correct a test of %(code)s") % {"code": row.tree.code},
        lead=_("What was noted before stays readable."),
        button=_("Correct it"),
        message=_("It is corrected. What was noted before stays readable."),
        template="ripeness/correction.html",
        **_way_back(request),
    )


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def withdrawal(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.ripeness_test_for(request.member, number)
    permissions.require_own(request.member, row)
    return answers.reason_page(
        request,
        ReasonForm(request.POST or None, label=_("Why it is withdrawn")),
        partial(ripeness.withdraw_test, row, today=request.today),
        heading=_("Withdraw a test of %(code)s") % {"code": row.tree.code},
        lead=_("It no longer counts; what was noted stays readable."),
        button=_("Withdraw it"),
        message=_("It is withdrawn. What was noted stays readable."),
        **_way_back(request),
    )


def _way_back(request: OrchardRequest) -> dict[str, str]:
    url = reverse("outlook-ripeness", args=[request.orchard.slug])
    return {"back_url": url, "back_label": _("Ripeness")}


def _to_index(request: OrchardRequest, said: str) -> HttpResponse:
    return answers.done(
        request, said, to="outlook-ripeness", orchard=request.orchard.slug
    )


def _page(
    request: OrchardRequest, page: str, form: Any, row: Any = None
) -> HttpResponse:
    context = {"form": form, "row": row, "today": request.today}
    if form.is_bound:
        return answers.refused_page(request, page, context)
    return render(request, page, context)
