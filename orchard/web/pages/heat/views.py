"""Heat units since bloom of each cultivar group."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from orchard.services import heat
from orchard.services.permissions import Deed
from orchard.web.doorkeeper import door
from orchard.web.pages.heat import charts
from orchard.web.requests import OrchardRequest


@require_safe
@door(Deed.SEE)
def heat_page(request: OrchardRequest) -> HttpResponse:
    """Show the chosen group, or the first, with the others a link away."""
    groups = heat.heat_of_groups(request.orchard, today=request.today)
    bloomed = [group for group in groups if group.bloom_on]
    asked = request.GET.get("group", "")
    chosen = next((group for group in bloomed if group.group == asked), None)
    if chosen is None and bloomed:
        chosen = bloomed[0]
    all_years = request.GET.get("years") == "all"
    context: dict[str, Any] = {
        "groups": bloomed,
        "group": chosen,
        "chart": charts.heat_chart(chosen, request.orchard, all_years=all_years)
        if chosen
        else None,
        "all_years": all_years,
        "left_out": charts.past_years_left_out(chosen) if chosen else 0,
        "rest": [group for group in groups if not group.bloom_on],
        "today": request.today,
    }
    return render(request, "heat/index.html", context)
