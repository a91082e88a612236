"""Rounds: made by who leads, walked by whoever takes them, watched and closed."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from orchard.records.models import Round
from orchard.services import permissions, rounds, trees
from orchard.services.errors import MayNot, Refused
from orchard.services.permissions import Deed, may
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.fields import codes_in
from orchard.web.pages.rounds import forms, offline_pages
from orchard.web.requests import OrchardRequest

PAGE = "rounds/show.html"


@require_safe
@door(Deed.INSPECT)
def index(request: OrchardRequest) -> HttpResponse:
    if request.GET.get("list") == "closed":
        return _closed(request)
    open_ones, closed = rounds.rounds_for(request.member, now=request.now)
    context = {
        "open": open_ones,
        "closed": closed,
        "leads": may(request.member, Deed.HAND_OUT),
    }
    return render(request, "rounds/index.html", context)


def _closed(request: OrchardRequest) -> HttpResponse:
    page = rounds.closed_rounds(request.member, after=paging.key_in(request))
    context = {"closed": page.rows, **paging.links(request, page.next_key)}
    return render(request, "rounds/closed.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.HAND_OUT)
def new(request: OrchardRequest) -> HttpResponse:
    takers = rounds.who_may_walk(request.orchard)
    form = forms.RoundForm.for_orchard(
        trees.blocks_of(request.orchard),
        takers,
        today=request.today,
        data=request.POST if request.method == "POST" else None,
        block=request.GET.get("block", ""),
    )
    context: dict[str, Any] = {"form": form}
    if not form.is_bound:
        return render(request, "rounds/new.html", context)
    if form.is_valid():
        with answers.refusals(form):
            if request.POST.get("step") == "trees":
                return render(request, "rounds/new.html", _tickable(request, form))
            row = _made(request, form, takers)
            to = reverse("round-show", args=[request.orchard.slug, row.pk])
            return answers.done(request, _("The round is handed out."), to=to)
    if "listed" in request.POST:
        context = _tickable(request, form)
    return answers.refused_page(request, "rounds/new.html", context)


def _made(request: OrchardRequest, form: forms.RoundForm, takers: Any) -> Round:
    values = form.cleaned_data
    choice = form.choice()
    if "listed" in request.POST:
        # The list was shown: what is ticked on it is what is meant.
        ticked = tuple(request.POST.getlist("tree"))
        choice = rounds.TreeChoice(codes=ticked + choice.codes)
    return rounds.make_round(
        request.orchard,
        by=request.user,
        now=request.now,
        today=request.today,
        name=values["name"],
        walk_on=values["walk_on"],
        trees=rounds.choose_trees(request.orchard, choice, on=values["walk_on"]),
        to=forms.chosen(values["to"], takers),
    )


def _tickable(request: OrchardRequest, form: forms.RoundForm) -> dict[str, Any]:
    """Return the trees one may tick, with those of the choice ticked."""
    choice = form.choice()
    if request.POST.get("step") == "trees":
        on = form.cleaned_data["walk_on"]
        chosen = rounds.choose_trees(request.orchard, choice, on=on)
        ticked = {tree.code for tree in chosen}
    else:
        ticked = set(request.POST.getlist("tree"))
    around = rounds.trees_around(request.orchard, choice)
    return {"form": form, "trees": [(tree, tree.code in ticked) for tree in around]}


def page_of(request: OrchardRequest, row: Round, **more: Any) -> dict[str, Any]:
    """Return what the page of a round shows to whom."""
    leads = may(request.member, Deed.HAND_OUT)
    is_open = row.closed_at is None
    mine = row.taken_by_id == request.user.pk
    sheet = rounds.round_sheet(
        row, request.member, today=request.today, now=request.now
    )
    return {
        "sheet": sheet,
        "round": row,
        "today": request.today,
        "now": request.now,
        "leads": leads,
        "is_open": is_open,
        "mine": mine,
        "walks": is_open and mine and sheet.next is not None,
        "can_take": is_open and row.taken_by_id is None,
        "can_close": is_open and (mine or leads),
        "can_reopen": not is_open and (leads or row.closed_by_id == request.user.pk),
        "handing": forms.RoundHandOverForm.for_orchard(
            row, rounds.who_may_walk(request.orchard)
        )
        if leads and is_open
        else None,
        **more,
    }


@require_safe
@door(Deed.INSPECT)
def show(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.round_for(request.member, number)
    return render(request, PAGE, page_of(request, row))


@require_safe
@door(Deed.HAND_OUT)
def live(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.round_for(request.member, number)
    context = {
        "sheet": rounds.round_sheet(
            row, request.member, today=request.today, now=request.now
        ),
        "round": row,
        "today": request.today,
        "now": request.now,
        "is_open": row.closed_at is None,
    }
    return answers.page_or_part(
        request, "rounds/live.html", "rounds/_live.html", context
    )


@require_safe
@door(Deed.INSPECT)
def pages(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.round_for(request.member, number)
    values: dict[str, Any]
    match request.GET.get("part"):
        case "cards":
            values = offline_pages.cards_of(row, on=request.today)
        case "work":
            values = offline_pages.work_of(request, row)
        case _:
            values = offline_pages.list_of(row, request.member, now=request.now)
    answer = JsonResponse(values)
    answer["Cache-Control"] = "no-store"
    return answer


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.HAND_OUT)
def order(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.round_for(request.member, number)
    to = reverse("round-show", args=[request.orchard.slug, row.pk])
    refusal = None
    if request.method == "POST":
        try:
            rounds.arrange_round(
                row,
                by=request.user,
                now=request.now,
                order=forms.order_of(request.POST),
                codes=codes_in(request.POST.get("codes", "")),
            )
        except Refused as refused:
            refusal = refused
        else:
            return answers.done(request, _("The walk is in its new order."), to=to)
    sheet = rounds.round_sheet(
        row, request.member, today=request.today, now=request.now
    )
    places = [
        (stop, request.POST.get(f"{forms.PLACE}{stop.number}", stop.place))
        for stop in sheet.stops
    ]
    page = {
        "round": row,
        "places": places,
        "codes": request.POST.get("codes", ""),
        "refusal": refusal,
    }
    return render(request, "rounds/order.html", page, status=422 if refusal else 200)


@require_POST
@door(Deed.INSPECT)
def taking(request: OrchardRequest, number: int) -> HttpResponse:
    gives = request.GET.get("give") == "back"
    verb = rounds.give_back_round if gives else rounds.take_round
    text = _("The round is free again.") if gives else _("The round is yours.")
    return _done(request, number, verb, text)


@require_POST
@door(Deed.HAND_OUT)
def handing(request: OrchardRequest, number: int) -> HttpResponse:
    row = permissions.round_for(request.member, number)
    takers = rounds.who_may_walk(request.orchard)
    form = forms.RoundHandOverForm.for_orchard(row, takers, data=request.POST)
    if not form.is_valid():
        page = page_of(request, row) | {"handing": form}
        return answers.refused_page(request, PAGE, page)
    to = forms.chosen(form.cleaned_data["to"], takers)
    text = _("%(name)s has the round.") % {"name": to.name} if to else ""
    return _done(
        request,
        number,
        rounds.hand_over_round,
        text or _("The round is free to take."),
        to=to,
    )


@require_POST
@door(Deed.INSPECT)
def closure(request: OrchardRequest, number: int) -> HttpResponse:
    if "undo" in request.GET:
        return _done(
            request, number, rounds.reopen_round, _("The round is open again.")
        )
    row = permissions.round_for(request.member, number)
    sheet = rounds.round_sheet(
        row, request.member, today=request.today, now=request.now
    )
    left = len(sheet.out)
    text = _("The round is closed; every tree was seen.")
    if left:
        text = ngettext(
            "The round is closed; %(count)d tree was not seen.",
            "The round is closed; %(count)d trees were not seen.",
            left,
        ) % {"count": left}
    undo = reverse("round-closure", args=[request.orchard.slug, number])
    return _done(request, number, rounds.close_round, text, undo_url=f"{undo}?undo=1")


def _done(
    request: OrchardRequest,
    number: int,
    verb: Any,
    text: str,
    *,
    undo_url: str = "",
    **values: Any,
) -> HttpResponse:
    """Do one thing with a round and go back to its page, or show there why not."""
    row = permissions.round_for(request.member, number)
    try:
        verb(row, by=request.user, now=request.now, **values)
    except MayNot:
        raise
    except Refused as refusal:
        row = permissions.round_for(request.member, number)
        page = page_of(request, row, refusal=refusal)
        return answers.refused_page(request, PAGE, page)
    to = reverse("round-show", args=[request.orchard.slug, number])
    return answers.done(request, text, to=to, undo_url=undo_url)
