"""What a set leaves as: files to keep, and pages for paper."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import IO

from django.http import FileResponse, HttpResponseBase
from django.shortcuts import render
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from orchard.records.models import TalkSet
from orchard.services import permissions, talks
from orchard.services.errors import Refused
from orchard.services.permissions import Deed
from orchard.services.talks import Talk
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.talks.player import player_of
from orchard.web.pages.talks.views import shown
from orchard.web.requests import OrchardRequest

DECK_TYPE = "application/vnd.openxmlformats-officedocument.presentationml.presentation"


def _finished(
    request: OrchardRequest, number: int, answer: Callable[[Talk], HttpResponseBase]
) -> HttpResponseBase:
    """Answer with what is made of a finished set; of another, with what it lacks."""
    talk_set = permissions.talk_set_for(request.member, number)
    talk = talks.read(talk_set, request.member)
    try:
        talks.require_finished(talk)
    except Refused as refusal:
        page = shown(request, talk_set, refusal=refusal)
        return answers.refused_page(request, "talks/show.html", page)
    response = answer(talk)
    # Who withdraws a consent must not be in a copy that somebody's browser keeps.
    response["Cache-Control"] = "no-store"
    return response


def _file(
    file: IO[bytes], talk_set: TalkSet, ending: str, kind: str
) -> HttpResponseBase:
    name = slugify(talk_set.title)[:60] or "talk"
    return FileResponse(
        file, as_attachment=True, filename=f"{name}.{ending}", content_type=kind
    )


@require_safe
@door(Deed.KEEP_TALKS)
def deck(request: OrchardRequest, number: int) -> HttpResponseBase:
    """Give a set as slides that anybody can edit."""
    return _finished(
        request,
        number,
        lambda talk: _file(talks.deck_of(talk), talk.talk_set, "pptx", DECK_TYPE),
    )


@require_safe
@door(Deed.KEEP_TALKS)
def pictures(request: OrchardRequest, number: int) -> HttpResponseBase:
    """Give the photos of a set, numbered, with their words."""
    return _finished(
        request,
        number,
        lambda talk: _file(
            talks.pictures_of(talk), talk.talk_set, "zip", "application/zip"
        ),
    )


@require_safe
@door(Deed.KEEP_TALKS)
def player(request: OrchardRequest, number: int) -> HttpResponseBase:
    """Give a set as one page that plays it from a disk."""
    return _finished(
        request,
        number,
        lambda talk: _file(
            BytesIO(player_of(talk).encode()),
            talk.talk_set,
            "html",
            "text/html; charset=utf-8",
        ),
    )


@require_safe
@door(Deed.KEEP_TALKS)
def handout(request: OrchardRequest, number: int) -> HttpResponseBase:
    """Show a set as a page to print and hand out."""
    return _finished(
        request,
        number,
        lambda talk: render(
            request,
            "talks/handout.html",
            {"talk": talk, "talk_set": talk.talk_set, "today": request.today},
        ),
    )
