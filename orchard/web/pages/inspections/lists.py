"""Lists: the inspections of a day or a month, and one's own second looks."""

from __future__ import annotations

from django.db.models import F
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from orchard.services import inspections, permissions
from orchard.services.inspections import Period
from orchard.services.paging import page_by_key, page_by_number
from orchard.services.permissions import Deed
from orchard.web import paging
from orchard.web.doorkeeper import door
from orchard.web.requests import OrchardRequest

SHOWN = 50


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    period = Period.TODAY
    if request.GET.get("period") == Period.MONTH:
        period = Period.MONTH
    found = inspections.list_inspections(
        request.orchard, period, now=request.now, today=request.today
    )
    page = page_by_key(
        found.prefetch_related("findings"),
        "-seen_on",
        "-id",
        after=paging.key_in(request),
        size=SHOWN,
    )
    rows = [
        (
            row,
            [
                finding
                for finding in row.findings.all()
                if permissions.sees(request.member, finding)
            ],
        )
        for row in page.rows
    ]
    context = {
        "rows": rows,
        "total": found.count(),
        "period": period,
        "writes_for_others": permissions.may(request.member, Deed.WRITE_FOR_OTHERS),
        **paging.links(request, page.next_key),
    }
    return render(request, "inspections/index.html", context)


@require_safe
@door(Deed.INSPECT)
def my_second_looks(request: OrchardRequest) -> HttpResponse:
    newest = (F("answered_at").desc(nulls_first=True), "-pk")
    looks = inspections.asked_by(request.member).order_by(*newest)
    waiting = request.GET.get("waiting") == "on"
    if waiting:
        looks = looks.filter(answered_at=None)
    # What waits has no moment of its answer to go on from.
    page = page_by_number(looks, number=paging.number_in(request), size=SHOWN)
    context = {
        "looks": page.rows,
        "page": page,
        "waiting": waiting,
        **paging.number_links(request, page),
    }
    return render(request, "inspections/my_second_looks.html", context)
