"""The outlook: what the night, the heat and the dry days ask of an orchard."""

from __future__ import annotations

from datetime import timedelta

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from orchard.services import (
    care_plan,
    frost,
    heat,
    ripeness,
    sun_hours,
    water,
    weather,
)
from orchard.services.permissions import Deed
from orchard.web.doorkeeper import door
from orchard.web.pages.outlook import wording
from orchard.web.requests import OrchardRequest


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    orchard, today = request.orchard, request.today
    # What several of the matters rest on is read once.
    plan = care_plan.gather_context(orchard, today=today)
    first = min(heat.first_heat_day(today), water.first_balance_day(today))
    days = weather.span(orchard, first, today - timedelta(days=1))
    kinds = ripeness.ripeness_of_kinds(orchard, today=today, context=plan)
    ripe = [row for row in kinds if row.is_on]
    calls = water.count_water_calls(
        orchard, today=today, days=days, trees=plan.trees, crowns=plan.crowns
    )
    night = frost.tonight_in_short(orchard, now=request.now, today=today, context=plan)
    groups = heat.heat_of_groups(orchard, today=today, days=days)
    context = {
        "matters": (
            wording.tonight(night),
            wording.watering(calls),
            wording.next_stage(groups),
            wording.ripe_now(ripe),
            wording.sun(sun_hours.tally_spots(orchard, year=today.year)),
        ),
        "today": today,
    }
    return render(request, "outlook/index.html", context)
