"""Ripeness: what is ready to pick, and the tests that say so."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Any
from urllib.parse import urlencode

from django.db.models import prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.services import permissions, ripeness
from orchard.services.paging import page_of_rows
from orchard.services.permissions import Deed, may
from orchard.services.ripeness import KindRipeness
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm
from orchard.web.pages.paper import PaperSheet, sheet_in
from orchard.web.pages.ripeness import charts, wording
from orchard.web.pages.ripeness.forms import RipenessForm
from orchard.web.requests import OrchardRequest

# Kinds of blocks on a page, each with its tests and a chart.
KINDS_SHOWN = 25
# Trees named in the address of the form that records their harvest: not all would fit.
TREES_NAMED = 40
READ_AND_SEND = ["GET", "HEAD", "POST"]


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    found = ripeness.ripeness_of_kinds(request.orchard, today=request.today)
    ready = [row for row in found if row.is_ready]
    coming = [row for row in found if row.is_on and not row.is_ready]
    later = [row for row in found if not row.is_on]
    # The lists follow one another: what is ready stands first.
    page = page_of_rows(
        (*ready, *coming, *later), _key, after=paging.key_in(request), size=KINDS_SHOWN
    )
    numbers = {_key(row): number for number, row in enumerate(page.rows)}
    tests = [reading.test for row in page.rows for reading in row.tests]
    prefetch_related_objects(tests, "by", "written_by")

    def shown(rows: Iterable[KindRipeness]) -> list[tuple[object, ...]]:
        return [
            (
                row,
                wording.kind_text(row),
                [wording.reading_text(reading) for reading in row.tests],
                charts.trend_chart(row, f"trend-{numbers[_key(row)]}"),
                _harvest_form(row, request.orchard.slug),
            )
            for row in rows
            if _key(row) in numbers
        ]

    context = {
        "ready": shown(ready),
        "coming": shown(coming),
        "later": shown(later),
        "is_empty": not ready and not coming,
        "tested_before": wording.lead_of_tests(),
        **paging.links(request, page.next_key),
        "may_note": may(request.member, Deed.WORK),
        "mends": may(request.member, Deed.CORRECT_OTHERS),
        "today": request.today,
    }
    return render(request, "ripeness/index.html", context)


def _harvest_form(row: KindRipeness, slug: str) -> str:
    """Return where a harvest is recorded; the form asks which trees of many."""
    trees = row.trees_to_pick
    if not row.is_ready or not trees:
        return ""
    form = reverse("harvest-new", args=[slug])
    if len(trees) > TREES_NAMED:
        return form
    return f"{form}?{urlencode({'tree': ' '.join(tree.code for tree in trees)})}"


def _key(row: KindRipeness) -> str:
    return f"{row.block.pk}.{row.kind.pk}"


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def new(request: OrchardRequest) -> HttpResponse:
    sheet = sheet_in(request)
    code = request.GET.get("tree", "").replace("\0", "")
    form = RipenessForm.new(
        tree=code,
        by_colour=ripeness.is_judged_by_colour(request.orchard, code),
        today=request.today,
        tested_on=sheet.day if sheet else None,
        units=request.orchard.units,
        data=request.POST or None,
    )
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            return _note(request, sheet, **form.cleaned_data)
    context = {
        "form": form,
        "today": request.today,
        "sheet": sheet,
        "not_tasted": ripeness.trees_not_tasted(request.orchard, now=request.now),
        "left_alone": ripeness.trees_left_alone(request.orchard, today=request.today),
    }
    if form.is_bound:
        return answers.refused_page(request, "ripeness/new.html", context)
    return render(request, "ripeness/new.html", context)


def _note(
    request: OrchardRequest, sheet: PaperSheet | None, *, tree: str, **readings: Any
) -> HttpResponse:
    chosen = permissions.tree_typed(request.member, tree)
    reading, opened = ripeness.note_and_open(
        chosen,
        by=sheet.person if sheet else request.user,
        written_by=request.user,
        now=request.now,
        today=request.today,
        **readings,
    )
    message = answers.with_opened(wording.test_text(reading), opened)
    if sheet is not None:
        return answers.done(request, f"{chosen.code}: {message}", to=sheet.url)
    return _to_index(request, message)


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
        lead=_("The earlier version stays readable."),
        button=_("Correct"),
        message=_("It is corrected. The earlier version stays readable."),
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
        lead=_("It no longer counts but stays readable."),
        button=_("Withdraw"),
        message=_("It is withdrawn and stays readable."),
        **_way_back(request),
    )


def _way_back(request: OrchardRequest) -> dict[str, str]:
    url = reverse("outlook-ripeness", args=[request.orchard.slug])
    return {"back_url": url, "back_label": _("Ripeness")}


def _to_index(request: OrchardRequest, message: str) -> HttpResponse:
    return answers.done(
        request, message, to="outlook-ripeness", orchard=request.orchard.slug
    )
