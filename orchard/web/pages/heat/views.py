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
    groups = heat.heat_of_groups(request.orchard, today=request.today)
    context: dict[str, Any] = {
        "rows": [
            (group, charts.heat_chart(group, request.orchard))
            for group in groups
            if group.bloom_on
        ],
        "rest": [group for group in groups if not group.bloom_on],
        "today": request.today,
    }
    return render(request, "heat/index.html", context)
