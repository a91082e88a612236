"""Frost: the night ahead tree by tree, its work, and the night as it was."""

from __future__ import annotations

from collections.abc import Iterable

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from orchard.services import care_plan, frost
from orchard.services.frost import TreeNight
from orchard.services.paging import page_of_rows
from orchard.services.permissions import Deed, may
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.pages.frost import charts, forms, wording
from orchard.web.requests import OrchardRequest

TREES_SHOWN = 150
READ_AND_SEND = ["GET", "HEAD", "POST"]


@require_safe
@door(Deed.SEE)
def frost_night(request: OrchardRequest) -> HttpResponse:
    asked = forms.EveningForm(request.GET or None, units=request.orchard.units)
    evening = asked.cleaned_data.get("evening") if asked.is_valid() else None
    found = frost.risk_tonight(
        request.orchard, now=request.now, today=request.today, evening_c=evening
    )
    # The lists follow one another: what would be lost first stands first.
    page = page_of_rows(
        (*found.rows, *found.large, *found.safe),
        lambda row: row.tree.pk,
        after=paging.key_in(request),
        size=TREES_SHOWN,
    )
    shown = {row.tree.pk for row in page.rows}

    def rows_of(nights: Iterable[TreeNight]) -> list[wording.TreeRow]:
        return [
            wording.tree_night(row, found) for row in nights if row.tree.pk in shown
        ]

    covered = found.covered
    to_open = any(row.tree.pk not in found.with_task for row in found.rows)
    context = {
        "frost": found,
        "cover_off": (
            wording.cover_off_words(covered[0].off_by, request.orchard.units)
            if covered
            else ""
        ),
        "rows": rows_of(found.rows),
        "large": rows_of(found.large),
        "safe": rows_of(found.safe),
        **paging.links(request, page.next_key),
        "chart": charts.night_chart(found, request.orchard),
        "form": asked,
        "may_open": to_open and may(request.member, Deed.HAND_OVER),
        "may_note": may(request.member, Deed.WORK),
        "may_keep_weather": may(request.member, Deed.KEEP_WEATHER),
        "today": request.today,
    }
    return render(request, "frost/index.html", context)


@require_POST
@door(Deed.HAND_OVER)
def frost_work(request: OrchardRequest) -> HttpResponse:
    """Open now what the plan would open in the night; safe to press twice."""
    opened = care_plan.open_next(request.orchard, now=request.now, today=request.today)
    message = ngettext(
        "%(count)d task opened.", "%(count)d tasks opened.", len(opened)
    ) % {"count": len(opened)}
    if not opened:
        message = _("Nothing new: all tasks that are due are open already.")
    return answers.done(
        request, message, to="outlook-frost", orchard=request.orchard.slug
    )


@require_http_methods(READ_AND_SEND)
@door(Deed.WORK)
def night(request: OrchardRequest) -> HttpResponse:
    form = forms.NightForm(
        request.POST or None,
        units=request.orchard.units,
        initial={"ended_on": request.today},
    )
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            noted = frost.note_night(
                request.orchard,
                by=request.user,
                now=request.now,
                today=request.today,
                **form.cleaned_data,
            )
            return answers.done(
                request,
                wording.night_noted(noted),
                to="outlook-frost",
                orchard=request.orchard.slug,
            )
    context = {
        "form": form,
        "lead": wording.night_lead(request.orchard.units),
        "today": request.today,
    }
    if form.is_bound:
        return answers.refused_page(request, "frost/night.html", context)
    return render(request, "frost/night.html", context)
