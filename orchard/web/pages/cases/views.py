"""Cases: suspected regulated pests, for those who lead and nobody else."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import Case, Task
from orchard.science import guide
from orchard.services import cases, permissions, photos
from orchard.services.permissions import Deed
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.pages.cases.forms import CallForm, OutcomeForm
from orchard.web.requests import OrchardRequest

# Where the second list of the page goes on.
AFTER_CLOSED = "after-closed"


def name_of(case: Case) -> str:
    return guide.load().name_of(case.sign)


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    def found(name: str, *, closed: bool) -> dict[str, Any]:
        after = paging.key_in(request, name=name)
        listed = cases.cases_of(request.member, closed=closed, after=after)
        rows = [(case, name_of(case)) for case in listed.rows]
        at = "closed" if closed else "open"
        links = paging.links(request, listed.next_key, name=name, at=at)
        return {"rows": rows, **links}

    page = {
        "open": found(paging.AFTER, closed=False),
        "closed": found(AFTER_CLOSED, closed=True),
    }
    return render(request, "cases/index.html", page)


@require_safe
@door(Deed.SEE)
def show(request: OrchardRequest, number: int) -> HttpResponse:
    case = permissions.case_for(request.member, number)
    return render(request, "cases/show.html", case_page(request, case))


def case_page(
    request: OrchardRequest,
    case: Case,
    form: OutcomeForm | None = None,
    call_form: CallForm | None = None,
) -> dict[str, Any]:
    sign = guide.load().signs.get(case.sign)
    leaders = permissions.leaders_of(request.orchard)
    numbers = {phone for _name, phone in request.orchard.report_calls}
    may_close = permissions.may(request.member, Deed.KEEP_RULES) and not case.closed_at
    return {
        "case": case,
        "name": name_of(case),
        "sign": sign,
        # Whoever is to be rung first stands above them.
        "leaders": [
            leader
            for leader in leaders
            if leader.user.phone and leader.user.phone not in numbers
        ],
        "numberless": ", ".join(
            leader.user.name for leader in leaders if not leader.user.phone
        ),
        "photos": photos.current_photos(case.finding),
        "tasks": case.tree.tasks.filter(kind=Task.Kind.REPORT, key=case.sign).order_by(
            "-pk"
        ),
        "calls": cases.calls_about(case),
        "call_form": (call_form or _new_call(request)) if not case.closed_at else None,
        "form": (form or OutcomeForm()) if may_close else None,
    }


def _new_call(request: OrchardRequest) -> CallForm:
    first = [name for name, _phone in request.orchard.report_calls[:1]]
    initial = {
        "caller": request.user.name,
        "called": "".join(first),
        "called_at": request.now,
    }
    return CallForm(initial=initial)


@require_http_methods(["POST"])
@door(Deed.SEE)
def note_call(request: OrchardRequest, number: int) -> HttpResponse:
    case = permissions.case_for(request.member, number)
    form = CallForm(request.POST)
    if form.is_valid():
        with answers.refusals(form):
            cases.note_call(case, by=request.user, now=request.now, **form.cleaned_data)
            to = reverse("case-show", args=[request.orchard.slug, number])
            return answers.done(request, _("The call is in the log."), to=f"{to}#calls")
    page = case_page(request, case, call_form=form)
    return answers.refused_page(request, "cases/show.html", page)


@require_http_methods(["POST"])
@door(Deed.SEE)
def closure(request: OrchardRequest, number: int) -> HttpResponse:
    case = permissions.case_for(request.member, number)
    permissions.require(request.member, Deed.KEEP_RULES)
    form = OutcomeForm(request.POST)
    if form.is_valid():
        with answers.refusals(form):
            cases.close(case, by=request.user, now=request.now, **form.cleaned_data)
            to = reverse("case-show", args=[request.orchard.slug, number])
            return answers.done(request, _("The case is closed."), to=to)
    page = case_page(request, case, form)
    return answers.refused_page(request, "cases/show.html", page)
