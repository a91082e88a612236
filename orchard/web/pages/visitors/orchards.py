"""The page of an orchard that anybody may open, where its coordinator wants one."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from orchard.services import visitors
from orchard.services.errors import NotThere
from orchard.services.visitors import Sight, WorthSeeing

SIGHTS = {
    Sight.IN_FLOWER: _("In flower"),
    Sight.RIPE: _("Ripe"),
    Sight.COLOURING: _("Fruit colouring"),
}


@require_safe
def visit(request: HttpRequest, orchard: str) -> HttpResponse:
    try:
        row = visitors.public_orchard(orchard)
    except NotThere:
        raise Http404 from None
    face = visitors.orchard_face(row, now=timezone.now())
    sights: dict[str, list[WorthSeeing]] = {}
    for seen in face.worth_seeing:
        sights.setdefault(str(SIGHTS[seen.sight]), []).append(seen)
    with timezone.override(ZoneInfo(row.time_zone)):
        context = {"face": face, "sights": list(sights.items()), "now": timezone.now()}
        return render(request, "visitors/orchard.html", context)
