"""How to look at a tree: what a new volunteer reads before the first one."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.views.decorators.http import require_safe

from orchard.records.models import Membership, User
from orchard.services import permissions
from orchard.services.permissions import Deed
from orchard.web.doorkeeper import door
from orchard.web.requests import OrchardRequest


@require_safe
@door(Deed.SEE)
def first_day(request: OrchardRequest) -> HttpResponse:
    wanted = request.GET.get("next", "")
    is_ours = url_has_allowed_host_and_scheme(
        wanted, {request.get_host()}, require_https=request.is_secure()
    )
    context = {"wanted": wanted if is_ours else ""}
    return render(request, "home/first_day.html", context)


def first_page(user: User, wanted: str = "") -> str:
    """Return where a volunteer's first sign-in leads; "" for whoever knows trees.

    The page they asked for comes after it.
    """
    for membership in permissions.orchards_of(user):
        if membership.role == Membership.Role.VOLUNTEER:
            url = reverse("first-day", args=[membership.orchard.slug])
            if wanted in ("", reverse("start")):
                return url
            return f"{url}?{urlencode({'next': wanted})}"
    return ""
