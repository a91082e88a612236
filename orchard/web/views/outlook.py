"""The outlook: what the night, the heat and the dry days ask of an orchard."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from orchard.services import ground, work
from orchard.services.access import Deed, may
from orchard.services.outlook import frost, heat, night_after, ripening, sunlight, water
from orchard.web import answers, outlook_words, pictures_water
from orchard.web import pictures_outlook as pictures
from orchard.web.doorkeeper import door
from orchard.web.forms import outlook as forms
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    orchard = request.orchard
    kinds = ripening.kinds(orchard, today=request.today)
    ripe = [row for row in kinds if row.is_on]
    context = {
        "frost": frost.tonight(orchard, now=request.now, today=request.today),
        "groups": [
            group
            for group in heat.groups(orchard, today=request.today)
            if group.bloom_on
        ],
        "week": water.week(orchard, today=request.today),
        "sun": sunlight.tally(orchard, year=request.today.year),
        "ready": [row for row in ripe if row.is_ready],
        "not_ready": [row for row in ripe if not row.is_ready],
        "today": request.today,
    }
    return render(request, "outlook/index.html", context)


@require_safe
@door(Deed.SEE)
def frost_night(request: OrchardRequest) -> HttpResponse:
    asked = forms.EveningForm(request.GET or None, units=request.orchard.units)
    evening = asked.cleaned_data.get("evening") if asked.is_valid() else None
    found = frost.tonight(
        request.orchard, now=request.now, today=request.today, evening_c=evening
    )
    rows = [outlook_words.tree_night(row, found) for row in found.rows]
    to_open = any(not row.has_task for row in rows)
    context = {
        "frost": found,
        "rows": rows,
        "safe": [outlook_words.tree_night(row, found) for row in found.safe],
        "chart": pictures.night(found, request.orchard),
        "form": asked,
        "may_open": to_open and may(request.member, Deed.HAND_OVER),
        "may_note": may(request.member, Deed.WORK),
        "today": request.today,
    }
    return render(request, "outlook/frost.html", context)


@require_POST
@door(Deed.HAND_OVER)
def frost_work(request: OrchardRequest) -> HttpResponse:
    """Open now what the plan would open in the night; safe to press twice."""
    opened = work.open_next(request.orchard, now=request.now, today=request.today)
    said = ngettext(
        "%(count)d task opened.", "%(count)d tasks opened.", len(opened)
    ) % {"count": len(opened)}
    if not opened:
        said = _("Nothing new: all work that is due stands open already.")
    return answers.done(request, said, to="outlook-frost", orchard=request.orchard.slug)


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
            noted = night_after.note_night(
                request.orchard,
                by=request.user,
                now=request.now,
                today=request.today,
                **form.cleaned_data,
            )
            return answers.done(
                request,
                outlook_words.night_noted(noted),
                to="outlook-frost",
                orchard=request.orchard.slug,
            )
    context = {"form": form, "today": request.today}
    if form.is_bound:
        return answers.refused_page(request, "outlook/night.html", context)
    return render(request, "outlook/night.html", context)


@require_safe
@door(Deed.SEE)
def heat_page(request: OrchardRequest) -> HttpResponse:
    groups = heat.groups(request.orchard, today=request.today)
    context: dict[str, Any] = {
        "rows": [
            (group, pictures.heat(group, request.orchard))
            for group in groups
            if group.bloom_on
        ],
        "rest": [group for group in groups if not group.bloom_on],
        "today": request.today,
    }
    return render(request, "outlook/heat.html", context)


@require_safe
@door(Deed.SEE)
def water_page(request: OrchardRequest) -> HttpResponse:
    week = water.week(request.orchard, today=request.today)
    context = {
        "week": week,
        "known": [row for row in week.rows if row.need.is_known],
        "unknown": [row for row in week.rows if not row.need.is_known],
        "chart": pictures_water.of_orchard(week, request.orchard),
        "may_set": may(request.member, Deed.KEEP_RULES),
        "may_note": may(request.member, Deed.WORK),
        "today": request.today,
    }
    return render(request, "outlook/water.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_RULES)
def soil(request: OrchardRequest) -> HttpResponse:
    now = ground.soil_of(request.orchard)
    stands = {"sort": now.sort, "cover": now.cover} if now else {}
    form = forms.SoilForm(request.POST or None, initial=stands)
    if request.method == "POST" and form.is_valid():
        ground.set_soil(
            request.orchard, by=request.user, now=request.now, **form.cleaned_data
        )
        return answers.done(
            request,
            _("It is kept. The water page counts with it from now on."),
            to="outlook-water",
            orchard=request.orchard.slug,
        )
    if form.is_bound:
        return answers.refused_page(request, "outlook/soil.html", {"form": form})
    return render(request, "outlook/soil.html", {"form": form})
