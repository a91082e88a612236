"""The outlook: what the night, the heat and the dry days ask of an orchard."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from orchard.services import frost, heat, ripeness, sun_hours, water
from orchard.services.permissions import Deed
from orchard.web.doorkeeper import door
from orchard.web.pages.ripeness import kind_text
from orchard.web.pages.water import headline
from orchard.web.requests import OrchardRequest


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    orchard = request.orchard
    kinds = ripeness.ripeness_of_kinds(orchard, today=request.today)
    ripe = [row for row in kinds if row.is_on]
    schedule = water.water_schedule(orchard, today=request.today)
    context = {
        "frost": frost.risk_tonight(orchard, now=request.now, today=request.today),
        "groups": [
            group
            for group in heat.heat_of_groups(orchard, today=request.today)
            if group.bloom_on
        ],
        "schedule": schedule,
        "water": headline(schedule),
        "sun": sun_hours.tally_spots(orchard, year=request.today.year),
        "ready": [row for row in ripe if row.is_ready],
        "not_ready": [(row, kind_text(row)) for row in ripe if not row.is_ready],
        "today": request.today,
    }
    return render(request, "outlook/index.html", context)
