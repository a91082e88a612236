"""What the server answers to a fault: 503 in words to an outage, else 500."""

from __future__ import annotations

import sys

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import add_never_cache_headers
from django.views.defaults import server_error as broken

from orchard.services.outages import Outage, outage_in
from orchard.web.pages import inbox
from orchard.web.pages.outages.sent import SentForm


def server_error(request: HttpRequest) -> HttpResponse:
    """Answer the fault that is being handled; Django has it logged with its trace."""
    outage = outage_in(sys.exc_info()[1])
    if outage is None:
        return broken(request)
    if request.path == reverse("inbox"):
        return inbox.wait_for_server("", outage)
    # It reads no session and no member: the database may be away.
    context = {
        "outage": outage,
        "is_reading": request.method in ("GET", "HEAD"),
        "may_be_saved": outage is Outage.AWAY,
        "needs_somebody": outage in (Outage.FULL, Outage.UNWRITABLE),
        "sent": SentForm.read(request),
        "address": request.get_full_path(),
    }
    response = render(request, "503.html", context, status=503)
    response["Retry-After"] = str(inbox.PAUSE)
    # What somebody typed stands on it.
    add_never_cache_headers(response)
    return response
