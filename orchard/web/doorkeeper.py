"""The doors of an orchard: who comes in, and with which clock."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone

from orchard.services import permissions
from orchard.services.errors import MayNot, NotThere
from orchard.services.permissions import Deed

View = Callable[..., HttpResponseBase]


def door(deed: Deed) -> Callable[[View], View]:
    """Let in only members of the orchard in the address who may do the deed.

    Sets request.orchard, request.member, request.now (UTC) and request.today (the
    orchard's own day), and shows all times of the page in the orchard's time zone.
    An outsider gets 404, too small a role 403. What a service says is not there for
    this person becomes 404 as well.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(
            request: Any, orchard: str, *args: Any, **kwargs: Any
        ) -> HttpResponseBase:
            if "\0" in request.path:
                # PostgreSQL refuses to look for such a text, and nothing is called so.
                raise Http404
            try:
                member = permissions.member_for(request.user, orchard)
            except NotThere:
                raise Http404 from None
            zone = ZoneInfo(member.orchard.time_zone)
            request.orchard = member.orchard
            request.member = member
            request.now = timezone.now()
            request.today = request.now.astimezone(zone).date()
            with timezone.override(zone):
                try:
                    permissions.require(member, deed)
                    return view(request, *args, **kwargs)
                except NotThere:
                    raise Http404 from None
                except MayNot as refusal:
                    context = {"refusal": refusal}
                    return render(request, "403.html", context, status=403)

        return login_required(guarded)

    return decorate


def caller_address(request: HttpRequest, *, trusted_proxies: int) -> str | None:
    """Return the caller's address as our own proxies report it."""
    if trusted_proxies:
        hops = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")
        if len(hops) >= trusted_proxies:
            return hops[-trusted_proxies].strip() or None
    return request.META.get("REMOTE_ADDR") or None
