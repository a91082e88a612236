"""How much a tree is fed this year, what it was given, and what comes next."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from orchard.science.words import TreatmentKind
from orchard.services import feeding, permissions
from orchard.services.permissions import Deed, may
from orchard.web.doorkeeper import door
from orchard.web.explain import anchor_of
from orchard.web.requests import OrchardRequest


@require_safe
@door(Deed.SEE)
def feeding_of_tree(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    advice = feeding.advice_for(tree, now=request.now, today=request.today)
    slug = request.orchard.slug
    record = reverse("treatment-new", args=[slug, TreatmentKind.FERTILISER])
    context = {
        "tree": tree,
        "advice": advice,
        "may_record": may(request.member, Deed.WORK),
        "record_url": f"{record}?tree={tree.code}",
        "law": anchor_of("feeding.nitrogen_by_crown"),
    }
    return render(request, "feeding/tree.html", context)
