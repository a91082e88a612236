"""The orchard's details: its name, place, time zone, units and contacts."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from orchard.services import orchards, permissions
from orchard.services.permissions import Deed, may
from orchard.web import answers
from orchard.web.days_of_year import day_said
from orchard.web.doorkeeper import door
from orchard.web.pages.orchards import forms as orchard_forms
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]


@require_http_methods(READ_AND_SEND)
@door(Deed.SEE)
def details(request: OrchardRequest) -> HttpResponse:
    form = orchard_forms.OrchardForm(request.POST or None, orchard=request.orchard)
    context = {
        "form": form,
        "may_correct": may(request.member, Deed.KEEP_RULES),
        "region": dict(orchard_forms.regions()).get(request.orchard.region, ""),
        "frost_from": day_said(form.initial["frost_from"]),
        "frost_to": day_said(form.initial["frost_to"]),
    }
    if request.method != "POST":
        return render(request, "orchards/details.html", context)
    permissions.require(request.member, Deed.KEEP_RULES)
    if form.is_valid():
        with answers.refusals(form):
            orchard = orchards.correct_details(
                request.orchard, by=request.user, now=request.now, **form.changes()
            )
            text = _("Details saved.")
            if form.moves_region:
                asked = (
                    _("Set the pest status for the new region, and who says so.")
                    if orchard.region
                    else _("No region is set now. Set the pest status here again.")
                )
                text = f"{text} {asked}"
            return answers.done(
                request,
                text,
                to="pests" if form.moves_region else "orchard-details",
                orchard=request.orchard.slug,
            )
    return answers.refused_page(request, "orchards/details.html", context)
