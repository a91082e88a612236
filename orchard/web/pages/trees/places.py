"""Places: the orchard's details, its blocks and spots, its kinds."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from orchard.records.models import Block
from orchard.science import guide
from orchard.services import permissions, trees
from orchard.services.permissions import Deed, may
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.pages.trees import place_forms as forms
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]


@require_http_methods(READ_AND_SEND)
@door(Deed.SEE)
def blocks(request: OrchardRequest) -> HttpResponse:
    form = forms.BlockForm(request.POST or None)
    if request.method == "POST":
        permissions.require(request.member, Deed.KEEP_TREES)
        if form.is_valid():
            with answers.refusals(form):
                block = trees.add_block(
                    request.orchard,
                    by=request.user,
                    now=request.now,
                    **form.cleaned_data,
                )
                message = _("Block %(code)s is added. Add its spots.")
                return _done(
                    request,
                    message % {"code": block.code},
                    to="block-show",
                    code=block.code,
                )
    context = {
        "blocks": trees.blocks_of(request.orchard),
        "form": form,
        "may_keep": may(request.member, Deed.KEEP_TREES),
    }
    if form.errors:
        return answers.refused_page(request, "trees/blocks.html", context)
    return render(request, "trees/blocks.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.SEE)
def block(request: OrchardRequest, code: str) -> HttpResponse:
    row = permissions.block_for(request.member, code)
    sent = request.POST.get("form") if request.method == "POST" else None
    shown = {"code": row.code, "name": row.name, "position": row.position}
    rename = forms.BlockCorrectionForm(
        request.POST if sent == "block" else None, initial=shown
    )
    add = forms.SpotsForm(request.POST if sent == "spots" else None)
    page = trees.spots_page(
        row, page=paging.number_in(request), spot=_spot_asked(request)
    )
    if sent == "arrangement":
        # Those that were on the page when it was opened, wherever they are by now.
        shown_then = trees.spots_of(row, among=forms.spots_sent(request.POST))
        arrange = forms.ArrangementForm(request.POST, spots=shown_then)
    else:
        arrange = forms.ArrangementForm(spots=page.rows)
    if request.method == "POST":
        permissions.require(request.member, Deed.KEEP_TREES)
        form = {"block": rename, "spots": add, "arrangement": arrange}.get(sent or "")
        if form is None:
            raise Http404
        if form.is_valid():
            with answers.refusals(form):
                message = _do(request, row, form)
                to = reverse("block-show", args=[request.orchard.slug, row.code])
                if page.number > 1 and form is arrange:
                    to += f"?{paging.NUMBER}={page.number}"
                return answers.done(request, message, to=to)
    context = {
        # Not "block": inside a template that word means the template's own block.
        "plot": permissions.block_for(request.member, code),
        "rename": rename,
        "add": add,
        "arrange": arrange,
        "page": page,
        **paging.number_links(request, page),
        "may_keep": may(request.member, Deed.KEEP_TREES),
    }
    if request.method == "POST":
        return answers.refused_page(request, "trees/block.html", context)
    return render(request, "trees/block.html", context)


def _spot_asked(request: OrchardRequest) -> int | None:
    """Return the spot that a page leads to; who pages on is led away from it."""
    text = request.GET.get("spot", "")
    if paging.NUMBER in request.GET or not text.isdecimal() or len(text) > 15:
        return None
    return int(text)


def _do(request: OrchardRequest, row: Block, form: Any) -> str:
    by, now = request.user, request.now
    if isinstance(form, forms.BlockCorrectionForm):
        trees.correct_block(row, by=by, now=now, **form.cleaned_data)
        return _("Block saved.")
    if isinstance(form, forms.SpotsForm):
        count = len(trees.add_spots(row, by=by, now=now, **form.cleaned_data))
        message = ngettext(
            "%(count)d spot is added.", "%(count)d spots are added.", count
        )
        return message % {"count": count}
    count = trees.arrange_spots(row, by=by, now=now, plans=form.plans())
    message = ngettext(
        "%(count)d spot is changed.", "%(count)d spots are changed.", count
    )
    return message % {"count": count}


@require_http_methods(READ_AND_SEND)
@door(Deed.SEE)
def kinds(request: OrchardRequest) -> HttpResponse:
    form = forms.KindForm(request.POST or None)
    if request.method == "POST":
        permissions.require(request.member, Deed.KEEP_TREES)
        if form.is_valid():
            with answers.refusals(form):
                kind = trees.add_kind(
                    request.orchard,
                    by=request.user,
                    now=request.now,
                    **form.cleaned_data,
                )
                message = _("%(name)s can now be planted.") % {"name": kind.name}
                return _done(request, message, to="kinds")
    lines = trees.kinds_of(request.orchard)
    here = {line.kind.name for line in lines}
    context = {
        "lines": [(line, forms.HOST_WORDS[line.kind.host]) for line in lines],
        "form": form,
        "cultivars": [name for name in guide.load().cultivars if name not in here],
        "may_keep": may(request.member, Deed.KEEP_TREES),
        "writes_stories": may(request.member, Deed.WRITE_STORIES),
    }
    if form.errors:
        return answers.refused_page(request, "trees/kinds.html", context)
    return render(request, "trees/kinds.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_TREES)
def kind(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.kind_for(request.member, number)
    form = forms.KindForm(request.POST or None, initial=forms.kind_shown(row))
    # The guide's names are offered where a cultivar is added.
    form.fields["name"].widget.attrs.pop("list")
    if row.guide_key:
        for name in ("name", "host", "group", "tender_class"):
            form.fields[name].disabled = True
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            trees.correct_kind(
                row, by=request.user, now=request.now, **form.cleaned_data
            )
            message = _("%(name)s saved.") % {"name": row.name}
            return _done(request, message, to="kinds")
    context = {"kind": permissions.kind_for(request.member, number), "form": form}
    if request.method == "POST":
        return answers.refused_page(request, "trees/kind.html", context)
    return render(request, "trees/kind.html", context)


def _done(
    request: OrchardRequest, message: str, *, to: str, **place: Any
) -> HttpResponse:
    return answers.done(request, message, to=to, orchard=request.orchard.slug, **place)
