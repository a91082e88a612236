"""The ledger page: who changed what, and when."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from zoneinfo import ZoneInfo

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from orchard.services import audit, permissions
from orchard.services.audit import AuditLine, LedgerFilter
from orchard.services.errors import NotThere
from orchard.services.permissions import Deed
from orchard.web import paging
from orchard.web.doorkeeper import door
from orchard.web.pages.audit.forms import LedgerFilterForm
from orchard.web.requests import OrchardRequest
from orchard.web.spreadsheets import csv_file


@require_safe
@door(Deed.READ_LEDGER)
def ledger(request: OrchardRequest) -> HttpResponse:
    """Show the ledger, newest first, narrowed by person, day, subject or tree."""
    form, wanted = _asked(request)
    page = None
    if wanted is not None:
        after = paging.key_in(request)
        page = audit.changes_page(request.member, wanted, after=after)
    kept = {key: str(request.GET[key]) for key in form.fields if request.GET.get(key)}
    asked = request.GET.copy()
    asked.pop(paging.AFTER, None)
    export = reverse("ledger-export", args=[request.orchard.slug])
    return render(
        request,
        "audit/ledger.html",
        {
            "form": form,
            "page": page,
            "is_filtered": bool(kept),
            "export_url": f"{export}?{asked.urlencode()}" if asked else export,
            **paging.links(request, page.next_key if page else ""),
        },
        status=200 if wanted is not None else 422,
    )


@require_safe
@door(Deed.READ_LEDGER)
def ledger_export(request: OrchardRequest) -> HttpResponseBase:
    """Send all lines that the page would show, as a file for a spreadsheet."""
    form, wanted = _asked(request)
    if wanted is None:
        context = {"form": form, "page": None, "is_filtered": True}
        return render(request, "audit/ledger.html", context, status=422)
    lines = audit.all_changes(request.member, wanted)
    zone = ZoneInfo(request.orchard.time_zone)
    name = f"ledger-{request.orchard.slug}-{request.today.isoformat()}.csv"
    return csv_file(name, _written_rows(lines, zone), zone)


def _asked(request: OrchardRequest) -> tuple[LedgerFilterForm, LedgerFilter | None]:
    """Return the form as asked, and what it asks for unless a field is wrong."""
    people = audit.people_in_ledger(request.member)
    form = LedgerFilterForm(request.GET, people=people)
    if not form.is_valid():
        return form, None
    asked = form.cleaned_data
    tree = None
    if code := asked["tree"]:
        try:
            tree = permissions.tree_for(request.member, code)
        except NotThere:
            form.add_error("tree", _("No tree has this code."))
            return form, None
    return form, LedgerFilter(
        person=asked["person"],
        sort=asked["sort"],
        tree=tree,
        first_day=asked["first_day"],
        last_day=asked["last_day"],
    )


def _written_rows(
    lines: Iterable[AuditLine], zone: ZoneInfo
) -> Iterator[Iterable[str]]:
    yield [
        _("When"),
        _("Who"),
        _("What was done"),
        _("To what"),
        _("Tree"),
        _("Changes"),
        _("Reason"),
        _("Private"),
    ]
    for line in lines:
        yield (
            line.at.astimezone(zone).isoformat(" ", timespec="seconds"),
            line.by_name or _("The app"),
            line.did,
            line.subject,
            line.tree_code,
            "; ".join(_change_text(line)),
            line.reason,
            _("yes") if line.private else "",
        )


def _change_text(line: AuditLine) -> Iterator[str]:
    for difference in line.differences:
        values = {
            "what": difference.what,
            "before": difference.before,
            "after": difference.after,
        }
        if line.is_new:
            yield _("%(what)s: %(after)s") % values
        else:
            yield _("%(what)s: was %(before)s, is %(after)s") % values
