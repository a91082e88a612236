"""How it is computed: each question with its formula, source and checks."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from orchard.services.permissions import Deed
from orchard.web import explain
from orchard.web.doorkeeper import door
from orchard.web.requests import OrchardRequest


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    """Show all questions folded; `open` names the one that a link leads to."""
    found = explain.explained()
    context = {
        "chapters": found.chapters,
        "other_figures": found.other_figures,
        "opened": request.GET.get("open", ""),
    }
    return render(request, "explained/index.html", context)
