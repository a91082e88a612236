"""Where everybody starts: the door to the orchards, and what needs one today."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from orchard.services import home as homes
from orchard.services import permissions
from orchard.services.permissions import Deed
from orchard.web.doorkeeper import door
from orchard.web.pages.tasks import line_url, time_taken
from orchard.web.requests import OrchardRequest, SignedInRequest


@require_safe
@login_required
def start(request: SignedInRequest) -> HttpResponse:
    memberships = permissions.orchards_of(request.user)
    if len(memberships) == 1:
        return redirect("home", orchard=memberships[0].orchard.slug)
    return render(request, "home/start.html", {"memberships": memberships})


@require_safe
@door(Deed.SEE)
def home(request: OrchardRequest) -> HttpResponse:
    shown = homes.home_today(request.member, now=request.now, today=request.today)
    context = {
        "home": shown,
        "today": request.today,
        "unseen_days": homes.UNSEEN.unseen_days,
        "work_this_week": time_taken(shown.minutes_this_week),
        "heat_url": line_url(request.orchard.slug, shown.heat.line.key)
        if shown.heat and shown.heat.line
        else "",
    }
    return render(request, "home/show.html", context)
