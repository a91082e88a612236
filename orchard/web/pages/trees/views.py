"""Trees: the list, one entered, corrected, moved, ended, replaced, tagged."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.records.models import Tree
from orchard.science import guide
from orchard.science.words import WorkKind
from orchard.services import permissions, trees
from orchard.services.errors import Refused
from orchard.services.holds import holds_of
from orchard.services.permissions import Deed, may
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm
from orchard.web.pages.trees import forms, qr
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    form = forms.TreeSearchForm(request.GET, orchard=request.orchard)
    filters = form.filters()
    if request.GET.get("go"):
        tree = trees.matching_trees(request.orchard, filters.text)
        if tree is not None:
            return redirect("tree-show", request.orchard.slug, tree.code)
    listing = trees.tree_list(
        request.orchard,
        today=request.today,
        filters=filters,
        page=paging.number_in(request),
    )
    context = {
        "form": form,
        "filters": filters,
        "listing": listing,
        "more_filters": filters != trees.TreeFilters(text=filters.text),
        "may_keep": may(request.member, Deed.KEEP_TREES),
        "may_take_in": may(request.member, Deed.KEEP_REGISTER),
        **paging.number_links(request, listing),
    }
    return render(request, "trees/index.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_TREES)
def new(request: OrchardRequest) -> HttpResponse:
    form = forms.NewTreeForm(
        request.POST or None,
        orchard=request.orchard,
        initial={"spot": request.GET.get("spot"), "planted_on": request.today},
    )
    context = {"form": form, "rootstocks": guide.load().rootstocks}
    if request.method != "POST":
        return render(request, "trees/new.html", context)
    if form.is_valid():
        with answers.refusals(form):
            tree = trees.plant(request.orchard, **_signed(request), **form.cleaned_data)
            message = _("%(code)s is added.") % {"code": tree.code}
            late = trees.late_planting(tree, today=request.today)
            message = f"{message} {late}".strip()
            return _to_tree(request, tree, message)
    return answers.refused_page(request, "trees/new.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.SEE)
def details(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    form = forms.TreeCorrectionForm(
        request.POST or None, orchard=request.orchard, initial=forms.initial_of(tree)
    )
    page = "trees/details.html"
    if request.method == "POST":
        permissions.require(request.member, Deed.KEEP_TREES)
        if form.is_valid():
            with answers.refusals(form):
                trees.correct(tree, **_signed(request), **form.cleaned_data)
                message = _("Corrected. What it said before stays in its history.")
                return _to_tree(request, tree, message)
        tree = permissions.tree_for(request.member, code)
        return answers.refused_page(request, page, _details_page(request, tree, form))
    return render(request, page, _details_page(request, tree, form))


def _details_page(request: OrchardRequest, tree: Tree, form: Any) -> dict[str, Any]:
    return {
        "tree": tree,
        "form": form,
        "rootstocks": guide.load().rootstocks,
        "history": trees.history_of(tree),
        "may_keep": may(request.member, Deed.KEEP_TREES),
    }


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_TREES)
def spot(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    form = forms.TreeMoveForm(
        request.POST or None, orchard=request.orchard, initial={"on": request.today}
    )

    def move(**given: Any) -> str:
        trees.move(tree, **_signed(request), **given)
        return _("%(code)s now stands in spot %(spot)s.") % {
            "code": tree.code,
            "spot": tree.spot,
        }

    return _sent(request, tree, form, move, "trees/spot.html")


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_TREES)
def state(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    if request.POST.get("what") == "back":
        return _taken_back(request, tree)
    form = forms.TreeEndForm(
        request.POST or None, tree=tree, initial={"on": request.today}
    )

    def end(*, what: str, **given: Any) -> str:
        verb = trees.scion_died if what == Tree.State.ROOTSTOCK_ONLY else trees.died
        verb(tree, **_signed(request), **given)
        return _("Noted. Open tasks of %(code)s are cancelled.") % {"code": tree.code}

    context = {"back": ReasonForm(prefix="back")}
    return _sent(request, tree, form, end, "trees/state.html", context)


def _taken_back(request: OrchardRequest, tree: Tree) -> HttpResponse:
    back = ReasonForm(request.POST, prefix="back")
    if back.is_valid():
        with answers.refusals(back):
            trees.take_back(tree, by=request.user, now=request.now, **back.cleaned_data)
            message = _("%(code)s is %(state)s again. Check whether it needs tasks.")
            given = {"code": tree.code, "state": tree.get_state_display()}
            return _to_tree(request, tree, message % given)
    tree = permissions.tree_for(request.member, tree.code)
    form = forms.TreeEndForm(tree=tree, initial={"on": request.today})
    context = {"tree": tree, "form": form, "back": back}
    return answers.refused_page(request, "trees/state.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_TREES)
def removal(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    form = forms.RemovalForm(request.POST or None, initial={"on": request.today})

    def remove(**given: Any) -> str:
        trees.remove(tree, **_signed(request), **given)
        return _("%(code)s is removed. Its record stays, its spot is free.") % {
            "code": tree.code
        }

    return _sent(request, tree, form, remove, "trees/removal.html")


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_TREES)
def replacement(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    form = forms.ReplacementForm(
        request.POST or None,
        orchard=request.orchard,
        initial={"planted_on": request.today, "setting": tree.setting},
    )
    context = {
        "tree": tree,
        "form": form,
        "rootstocks": guide.load().rootstocks,
        "is_held": _is_held(tree, request.today),
    }
    if request.method != "POST":
        return render(request, "trees/replacement.html", context)
    if form.is_valid():
        with answers.refusals(form):
            fresh = trees.replace(tree, **_signed(request), **form.cleaned_data)
            message = _("%(code)s stands where %(old)s stood.")
            return _to_tree(request, fresh, message % {"code": fresh.code, "old": code})
    context["tree"] = permissions.tree_for(request.member, code)
    return answers.refused_page(request, "trees/replacement.html", context)


@require_http_methods(READ_AND_SEND)
@door(Deed.KEEP_TREES)
def tag(request: OrchardRequest, code: str) -> HttpResponse:
    tree = permissions.tree_for(request.member, code)
    tags = trees.tags_of(tree)
    valid = next((row for row in tags if row.retired_at is None), None)
    form = ReasonForm(request.POST if request.method == "POST" and valid else None)

    def give(**given: Any) -> str:
        if valid is None:
            trees.tag_of(tree, now=request.now, by=request.user)
            return _("%(code)s has a tag. Print it.") % {"code": tree.code}
        trees.retag(tree, by=request.user, now=request.now, **given)
        return _("%(code)s has a new tag; the old one is retired. Print it.") % {
            "code": tree.code
        }

    context = {
        "tree": tree,
        "form": form,
        "valid": valid,
        "drawing": qr.drawn(valid.token) if valid else "",
        "address": qr.address_of(valid.token) if valid else "",
        "retired": [row for row in tags if row.retired_at is not None],
    }
    if request.method != "POST":
        return render(request, "trees/tag.html", context)
    if valid is None or form.is_valid():
        try:
            message = give(**(form.cleaned_data if valid else {}))
        except Refused as refusal:
            context["refusal"] = refusal
        else:
            slug = request.orchard.slug
            return answers.done(
                request, message, to="tree-tag", orchard=slug, code=tree.code
            )
    return answers.refused_page(request, "trees/tag.html", context)


def _sent(
    request: OrchardRequest,
    tree: Tree,
    form: Any,
    verb: Any,
    page: str,
    more: dict[str, Any] | None = None,
) -> HttpResponse:
    """Show the form of a verb about one tree, or do what was sent with it."""
    context = {"form": form, "is_held": _is_held(tree, request.today), **(more or {})}
    if request.method == "POST":
        if form.is_valid():
            with answers.refusals(form):
                message = verb(**form.cleaned_data)
                return _to_tree(request, tree, message)
        tree = permissions.tree_for(request.member, tree.code)
        return answers.refused_page(request, page, {"tree": tree, **context})
    return render(request, page, {"tree": tree, **context})


def _is_held(tree: Tree, today: date) -> bool:
    """Say whether nothing may leave the tree: these pages are for those who lead."""
    moving = WorkKind.MOVING
    return bool(holds_of(tree.orchard, [tree.pk], today=today, forbidding=moving))


def _signed(request: OrchardRequest) -> dict[str, Any]:
    return {"by": request.user, "now": request.now, "today": request.today}


def _to_tree(request: OrchardRequest, tree: Tree, message: str) -> HttpResponse:
    slug = request.orchard.slug
    return answers.done(request, message, to="tree-show", orchard=slug, code=tree.code)
