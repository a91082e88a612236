"""Talk sets: the list, one set, and what is done to it as a whole."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from orchard.records.models import TalkSet
from orchard.services import permissions, talks
from orchard.services.errors import Refused
from orchard.services.permissions import Deed, may
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.pages.talks.forms import TalkTitleForm
from orchard.web.requests import OrchardRequest

READ_AND_SEND = ["GET", "HEAD", "POST"]


def url_of(talk_set: TalkSet, slide: int | None = None) -> str:
    """Return the address of a set, and where in it a slide is."""
    url = reverse("talk-show", args=[talk_set.orchard.slug, talk_set.pk])
    return f"{url}#slide-{slide}" if slide else url


def undo_url_of(talk_set: TalkSet) -> str:
    """Return the address that takes back the last step in a set."""
    return reverse("talk-undo", args=[talk_set.orchard.slug, talk_set.pk])


@require_http_methods(READ_AND_SEND)
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    form = TalkTitleForm(request.POST or None)
    if request.method == "POST":
        permissions.require(request.member, Deed.KEEP_TALKS)
        if form.is_valid():
            with answers.refusals(form):
                talk_set = talks.start(
                    request.orchard,
                    title=form.cleaned_data["title"],
                    by=request.user,
                    now=request.now,
                )
                text = _("Talk set started. Add its photos.")
                to = reverse("slide-photos", args=[request.orchard.slug, talk_set.pk])
                return answers.done(request, text, to=to)
    page = talks.sets_of(request.orchard, after=paging.key_in(request))
    context = {
        "sets": page.rows,
        "form": form,
        "keeps": may(request.member, Deed.KEEP_TALKS),
        "today": request.today,
        **paging.links(request, page.next_key),
    }
    if request.method == "POST":
        return answers.refused_page(request, "talks/index.html", context)
    return render(request, "talks/index.html", context)


def shown(request: OrchardRequest, talk_set: TalkSet, **more: Any) -> dict[str, Any]:
    """Return what the page of a set shows."""
    return {
        "talk_set": talk_set,
        "talk": talks.read(talk_set, request.member),
        "keeps": may(request.member, Deed.KEEP_TALKS) and not talk_set.removed_at,
        "last_step": talks.last_step(talk_set),
        "form": TalkTitleForm(initial={"title": talk_set.title}),
        "today": request.today,
        **more,
    }


@require_http_methods(READ_AND_SEND)
@door(Deed.SEE)
def show(request: OrchardRequest, number: int) -> HttpResponse:
    talk_set = permissions.talk_set_for(request.member, number)
    if request.method != "POST":
        return render(request, "talks/show.html", shown(request, talk_set))
    permissions.require(request.member, Deed.KEEP_TALKS)
    form = TalkTitleForm(request.POST)
    if form.is_valid():
        with answers.refusals(form):
            talks.rename(
                talk_set, by=request.user, now=request.now, **form.cleaned_data
            )
            return answers.done(
                request,
                _("Title saved."),
                to=url_of(talk_set),
                undo_url=undo_url_of(talk_set),
            )
    page = shown(request, talk_set, form=form)
    return answers.refused_page(request, "talks/show.html", page)


@require_POST
@door(Deed.KEEP_TALKS)
def undoing(request: OrchardRequest, number: int) -> HttpResponse:
    talk_set = permissions.talk_set_for(request.member, number)
    try:
        step = talks.undo(talk_set, by=request.user, now=request.now)
    except Refused as refusal:
        return _refused(request, talk_set, refusal)
    text = _("Undone: %(step)s.") % {"step": step.get_deed_display()}
    return answers.done(request, text, to=url_of(talk_set))


def _refused(
    request: OrchardRequest, talk_set: TalkSet, refusal: Refused
) -> HttpResponse:
    page = shown(request, talk_set, refusal=refusal)
    return answers.refused_page(request, "talks/show.html", page)


@require_POST
@door(Deed.KEEP_TALKS)
def emptying(request: OrchardRequest, number: int) -> HttpResponse:
    talk_set = permissions.talk_set_for(request.member, number)
    try:
        talks.clear_empty(talk_set, by=request.user, now=request.now)
    except Refused as refusal:
        return _refused(request, talk_set, refusal)
    return answers.done(
        request,
        _("Empty places removed."),
        to=url_of(talk_set),
        undo_url=undo_url_of(talk_set),
    )


@require_POST
@door(Deed.KEEP_TALKS)
def copies(request: OrchardRequest, number: int) -> HttpResponse:
    talk_set = permissions.talk_set_for(request.member, number)
    copied = talks.copy(talk_set, by=request.user, now=request.now)
    text = _("This is the copy. Change it as you like.")
    return answers.done(request, text, to=url_of(copied))


@require_POST
@door(Deed.KEEP_TALKS)
def removal(request: OrchardRequest, number: int) -> HttpResponse:
    talk_set = permissions.talk_set_for(request.member, number)
    talks.remove_set(talk_set, by=request.user, now=request.now)
    text = _("Talk set “%(title)s” removed.") % {"title": talk_set.title}
    slug = request.orchard.slug
    return answers.done(
        request,
        text,
        to=reverse("talks", args=[slug]),
        undo_url=reverse("talk-return", args=[slug, talk_set.pk]),
    )


@require_POST
@door(Deed.KEEP_TALKS)
def bringing_back(request: OrchardRequest, number: int) -> HttpResponse:
    talk_set = permissions.talk_set_for(request.member, number)
    talks.bring_back(talk_set, by=request.user, now=request.now)
    return answers.done(request, _("Talk set brought back."), to=url_of(talk_set))
