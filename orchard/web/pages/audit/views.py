"""The ledger page: who changed what, and when."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from orchard.services import audit, permissions
from orchard.services.errors import NotThere
from orchard.services.permissions import Deed
from orchard.web import paging
from orchard.web.doorkeeper import door
from orchard.web.pages.audit.forms import LedgerFilterForm
from orchard.web.requests import OrchardRequest


@require_safe
@door(Deed.READ_LEDGER)
def ledger(request: OrchardRequest) -> HttpResponse:
    people = audit.people_in_ledger(request.member)
    form = LedgerFilterForm(request.GET, people=people)
    asked = form.cleaned_data if form.is_valid() else {}
    if code := asked.get("tree"):
        try:
            asked["tree"] = permissions.tree_for(request.member, code)
        except NotThere:
            form.add_error("tree", _("No tree has this code."))
            asked = {}
    page = None
    if form.is_valid():
        page = audit.changes_page(
            request.member,
            person=asked["person"],
            sort=asked["sort"],
            tree=asked["tree"] or None,
            after=_key_in(request),
        )
    kept = {key: str(request.GET[key]) for key in form.fields if request.GET.get(key)}
    return render(
        request,
        "audit/ledger.html",
        {
            "form": form,
            "page": page,
            "is_filtered": bool(kept),
            **paging.links(request, page.next_key if page else ""),
        },
        status=200 if form.is_valid() else 422,
    )


def _key_in(request: OrchardRequest) -> str:
    """Return the number of the line to go on from; what is none is not found."""
    key = paging.key_in(request)
    if key and not (key.isascii() and key.isdigit() and len(key) <= 18):
        raise Http404
    return key
