"""Photos without a record: the tray they wait in, and where each belongs."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from orchard.services import permissions, photos, rounds
from orchard.services.errors import Refused
from orchard.services.permissions import Deed, may
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm
from orchard.web.pages.photos.unassigned_forms import BelongsForm
from orchard.web.requests import OrchardRequest


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.INSPECT)
def unassigned_photos(request: OrchardRequest) -> HttpResponse:
    if request.method != "POST":
        return render(request, "photos/unassigned.html", page_of(request))
    number = request.POST.get("round", "")
    code = request.POST.get("tree", "").strip()
    try:
        tree = permissions.tree_typed(request.member, code) if code else None
        new, here_already = photos.bring(
            request.FILES.getlist("photos"),
            orchard=request.orchard,
            by=request.user,
            now=request.now,
            round=rounds.trees_asked_for(request.orchard, _number(number)),
            tree=tree,
        )
    except Refused as refusal:
        page = page_of(request, refusal=refusal)
        return answers.refused_page(request, "photos/unassigned.html", page)
    return answers.done(
        request,
        came(new, here_already),
        to=reverse("strays", args=[request.orchard.slug]),
    )


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 16 else None


def came(new: int, here_already: int) -> str:
    """Say how many photos came in, and how many the book had before."""
    sentences = []
    if new:
        text = ngettext("%(count)d photo saved.", "%(count)d photos saved.", new)
        sentences.append(text % {"count": new})
    if here_already:
        text = ngettext(
            "%(count)d was here already.",
            "%(count)d were here already.",
            here_already,
        )
        sentences.append(text % {"count": here_already})
    return " ".join(sentences)


def page_of(request: OrchardRequest, **more: Any) -> dict[str, Any]:
    """Return what the tray shows to a member."""
    waiting, count = photos.unassigned_photos(
        request.member, after=paging.key_in(request)
    )
    return {
        "strays": waiting.rows,
        "count": count,
        "keeps": may(request.member, Deed.KEEP_PHOTOS),
        "today": request.today,
        "round": request.POST.get("round") or request.GET.get("round", ""),
        "typed_tree": request.POST.get("tree", ""),
        **paging.links(request, waiting.next_key),
        **more,
    }


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.INSPECT)
def assign_photos(request: OrchardRequest, name: Any) -> HttpResponse:
    photo = permissions.stray_for(request.member, name)
    if photo.tree is not None or photo.withdrawn_at is not None:
        return redirect("photo-show", request.orchard.slug, photo.name)
    form = BelongsForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        with answers.refusals(form):
            photo = photos.assign(
                photo,
                member=request.member,
                now=request.now,
                **target_of(request, form),
            )
            text = _("The photo belongs to %(tree)s now.") % {"tree": photo.tree}
            return answers.done(
                request, text, to=reverse("strays", args=[request.orchard.slug])
            )
    page = {
        "photo": photo,
        "form": form,
        "suggestions": photos.suggested(photo, request.member),
        "withdrawal": ReasonForm(label=_("Why it is removed")),
        "today": request.today,
    }
    status = 422 if form.errors else 200
    return render(request, "photos/assign.html", page, status=status)


def target_of(request: OrchardRequest, form: BelongsForm) -> dict[str, Any]:
    """Return the look or the tree that is meant; what is typed counts first.

    Raises:
        unknown_tree: no tree has that code.
    """
    cleaned = form.cleaned_data
    if cleaned["tree"].strip():
        return {"tree": permissions.tree_typed(request.member, cleaned["tree"])}
    if cleaned["inspection"]:
        number = cleaned["inspection"]
        return {"inspection": permissions.inspection_for(request.member, number)}
    return {}
