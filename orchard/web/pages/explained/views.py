"""How it is computed: every formula with its source and the checks it passes."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from orchard.science import figures
from orchard.services.permissions import Deed
from orchard.web import explain
from orchard.web.doorkeeper import door
from orchard.web.requests import OrchardRequest


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    context = {
        "chapters": explain.chapters(),
        "figures": figures.all_figures(),
    }
    return render(request, "explained/index.html", context)
