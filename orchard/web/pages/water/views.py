"""Water of a week: litres for each tree, and the soil they depend on."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.services import water
from orchard.services.permissions import Deed, may
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.water import charts, forms
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]


@require_safe
@door(Deed.SEE)
def week_of_water(request: OrchardRequest) -> HttpResponse:
    week = water.week_of_water(request.orchard, today=request.today)
    context = {
        "week": week,
        "counted": [row for row in week.rows if row.need.is_known],
        "uncounted": [row for row in week.rows if not row.need.is_known],
        "chart": charts.orchard_chart(week, request.orchard),
        "may_set": may(request.member, Deed.KEEP_RULES),
        "may_note": may(request.member, Deed.WORK),
        "today": request.today,
    }
    return render(request, "water/index.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_RULES)
def set_soil(request: OrchardRequest) -> HttpResponse:
    soil = water.soil_of(request.orchard)
    initial = {"sort": soil.sort, "cover": soil.cover} if soil else {}
    form = forms.SoilForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        water.set_soil(
            request.orchard, by=request.user, now=request.now, **form.cleaned_data
        )
        return answers.done(
            request,
            _("It is kept. The water page counts with it from now on."),
            to="outlook-water",
            orchard=request.orchard.slug,
        )
    if form.is_bound:
        return answers.refused_page(request, "water/soil.html", {"form": form})
    return render(request, "water/soil.html", {"form": form})
