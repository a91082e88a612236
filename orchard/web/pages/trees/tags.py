"""Tags: which ones to print, and the sheet to print and cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils.safestring import SafeString
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import Tag, Tree
from orchard.services import trees
from orchard.services.errors import Refused
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.trees import qr
from orchard.web.pages.trees import tag_forms as forms
from orchard.web.requests import OrchardRequest


@dataclass(frozen=True, slots=True)
class Printed:
    """One tag on the sheet."""

    tree: Tree
    drawing: SafeString


@require_safe
@door(Deed.KEEP_TREES)
def choose_tags(request: OrchardRequest) -> HttpResponse:
    blocks = trees.blocks_of(request.orchard)
    paper = "letter" if request.orchard.units == "us" else "a4"
    asked = {"codes": request.GET.get("codes", ""), "paper": paper}
    if asked["codes"]:
        asked["which"] = "codes"
    form = forms.TagsForm(blocks=blocks, initial=asked)
    context = {"form": form, "trees": sum(block.trees for block in blocks)}
    return render(request, "trees/tags.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.KEEP_TREES)
def tag_sheet(request: OrchardRequest) -> HttpResponse:
    if request.method != "POST":
        return redirect("tags", orchard=request.orchard.slug)
    blocks = trees.blocks_of(request.orchard)
    form = forms.TagsForm(request.POST, blocks=blocks)
    context = {"form": form, "trees": sum(block.trees for block in blocks)}
    if not form.is_valid():
        return answers.refused_page(request, "trees/tags.html", context)
    try:
        chosen = trees.trees_for_tags(request.orchard, form.choice())
    except Refused as refusal:
        answers.refused(form, refusal)
        return answers.refused_page(request, "trees/tags.html", context)
    tags = trees.make_tags(chosen, by=request.user, now=request.now)
    return render(request, "trees/tag_sheet.html", _pages(form, chosen, tags))


@require_safe
@door(Deed.SEE)
def tag_codes(request: OrchardRequest) -> HttpResponse:
    """Send the tree of each tag: a phone answers a scan from it without signal."""
    answer = JsonResponse(trees.codes_by_token(request.orchard))
    answer["Cache-Control"] = "no-store"
    return answer


def _pages(
    form: forms.TagsForm, chosen: list[Tree], tags: dict[int, Tag]
) -> dict[str, Any]:
    printed = [Printed(tree, qr.drawn(tags[tree.pk].token)) for tree in chosen]
    size = forms.PER_PAGE[form.cleaned_data["per_page"]]
    return {
        "pages": [printed[n : n + size] for n in range(0, len(printed), size)],
        "paper": form.cleaned_data["paper"],
        "paper_name": dict(forms.PAPERS)[form.cleaned_data["paper"]],
        "per_page": size,
        "count": len(printed),
    }
