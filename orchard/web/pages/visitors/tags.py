"""What anybody sees who scans a tag; a member goes on to the tree's own page."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dates import MONTHS
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from orchard.records.models import Tag
from orchard.science.units import shown
from orchard.services import frost, permissions, visitors
from orchard.services.errors import NotThere
from orchard.services.visitors import PublicFace

# A member who asks to see what visitors see.
AS_VISITOR = "as-visitor"


@dataclass(frozen=True, slots=True)
class Degrees:
    """A temperature in the orchard's own unit."""

    number: float
    unit: str


@require_safe
def public_tag(request: HttpRequest, token: str) -> HttpResponse:
    try:
        found = visitors.tag_for(token)
    except NotThere:
        return render(request, "visitors/unknown_tag.html", status=404)
    tree = found.tree
    is_member = _is_member(request, found)
    if is_member and AS_VISITOR not in request.GET:
        return redirect("tree-show", orchard=tree.orchard.slug, code=tree.code)
    now = timezone.now()
    face = visitors.public_face(found, now=now)
    at_risk = frost.night_of_tree(tree, now=now) if face.is_covered else None
    next_page = urlencode({"next": request.path})
    context = {
        "face": face,
        "ripe": _span(face.ripe_months),
        "cover_at": _degrees(face, face.cover_at_c) if face.tender else None,
        "hurt_at": _degrees(face, face.tender.soft_growth_c) if face.tender else None,
        "night": at_risk[0].name if at_risk else "",
        "is_member": is_member,
        "tree_url": reverse("tree-show", args=[tree.orchard.slug, tree.code]),
        "sign_in_url": f"{reverse('sign-in')}?{next_page}",
    }
    with timezone.override(ZoneInfo(tree.orchard.time_zone)):
        return render(request, "visitors/tree.html", context)


def _is_member(request: HttpRequest, found: Tag) -> bool:
    if not request.user.is_authenticated:
        return False
    try:
        permissions.member_for(request.user, found.tree.orchard.slug)
    except NotThere:
        return False
    return True


def _span(months: tuple[int, ...]) -> str:
    if not months:
        return ""
    first, last = str(MONTHS[months[0]]), str(MONTHS[months[-1]])
    if len(months) == 1:
        return first
    return _("%(first)s to %(last)s") % {"first": first, "last": last}


def _degrees(face: PublicFace, celsius: float) -> Degrees:
    return Degrees(*shown(celsius, "°C", face.units))
