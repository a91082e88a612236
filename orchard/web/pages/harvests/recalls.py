"""Recalls: what is called back, whom to call, and what they answered."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import Harvest, Treatment
from orchard.services import harvests, permissions
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.harvests.forms import RecallCallForm, RecallForm
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]


@require_safe
@door(Deed.CORRECT_OTHERS)
def recalls(request: OrchardRequest) -> HttpResponse:
    context = {
        "recalls": harvests.recalls_of(request.orchard),
        "quarantine": harvests.quarantine_words(request.orchard, on=request.today),
        "today": request.today,
    }
    return render(request, "harvests/recalls.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.CORRECT_OTHERS)
def recall_of_lot(request: OrchardRequest, number: int) -> HttpResponse:
    lot = permissions.harvest_for(request.member, number)
    return _open(request, lot.lot, "harvest-show", number, harvest=lot)


@require_http_methods(READ_AND_SEND)
@door(Deed.CORRECT_OTHERS)
def recall_of_treatment(request: OrchardRequest, number: int) -> HttpResponse:
    treatment = permissions.treatment_for(request.member, number)
    name = _("what was picked after the treatment")
    return _open(request, name, "recalls", treatment=treatment)


def _open(
    request: OrchardRequest,
    name: str,
    page: str,
    *place: int,
    harvest: Harvest | None = None,
    treatment: Treatment | None = None,
) -> HttpResponse:
    back_url = reverse(page, args=[request.orchard.slug, *place])
    form = RecallForm(request.POST or None)
    if form.is_bound and form.is_valid():
        with answers.refusals(form):
            recall = harvests.open_recall(
                request.orchard,
                harvest=harvest,
                treatment=treatment,
                because=form.cleaned_data["because"],
                by=request.user,
                now=request.now,
                today=request.today,
            )
            return answers.done(
                request,
                _("It is called back. Nothing more of it is given away."),
                to="recall-show",
                orchard=request.orchard.slug,
                number=recall.pk,
            )
    context = {
        "form": form,
        "heading": _("Call back %(name)s") % {"name": name},
        "lead": _(
            "Nothing more of it is given away. You get a list of everybody to call."
        ),
        "button": _("Call it back"),
        "back_url": back_url,
        "back_label": _("Back"),
        "explanation": harvests.quarantine_words(request.orchard, on=request.today),
        "today": request.today,
    }
    if form.is_bound:
        return answers.refused_page(request, "reason.html", context)
    return render(request, "reason.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.CORRECT_OTHERS)
def recall_show(request: OrchardRequest, number: int) -> HttpResponse:
    recall = permissions.recall_for(request.member, number)
    form = RecallCallForm(request.POST or None)
    if form.is_bound and form.is_valid():
        with answers.refusals(form):
            fields = form.cleaned_data
            share = permissions.harvest_share_for(request.member, fields.pop("share"))
            harvests.note_call(
                recall, share, by=request.user, now=request.now, **fields
            )
            return answers.done(
                request,
                _("All have answered. The recall is closed.")
                if recall.closed_at
                else _("The call is noted."),
                to="recall-show",
                orchard=request.orchard.slug,
                number=recall.pk,
            )
    context = {
        "form": form,
        "recall": recall,
        "picture": harvests.recall_picture(recall),
        "quarantine": harvests.quarantine_words(request.orchard, on=request.today),
        "today": request.today,
    }
    if form.is_bound:
        return answers.refused_page(request, "harvests/recall.html", context)
    return render(request, "harvests/recall.html", context)
