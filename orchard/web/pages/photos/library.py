"""The library of photos: narrowed, chosen from, and one deed done to many.

All of it is one form that asks by its address: what is narrowed, what is chosen on this
page (`pick`) and on others (`chosen`). So a choice survives paging with no script.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from orchard.records.models import Membership, Photo
from orchard.services import permissions, photos, talks
from orchard.services.permissions import Deed
from orchard.web import answers, paging
from orchard.web.doorkeeper import door
from orchard.web.pages.photos.forms import ConsentForm
from orchard.web.pages.photos.library_forms import (
    DescribeManyForm,
    LibraryForm,
    Offered,
    TalkFromChosenForm,
)
from orchard.web.pages.photos.wording import PhotoStory
from orchard.web.requests import OrchardRequest

CHOSEN, PICK = "chosen", "pick"
NUMBER = re.compile(r"\d{1,15}", re.ASCII)


def chosen_in(asked: QueryDict) -> list[int]:
    """Return the numbers of the photos that are chosen, in the order of choosing."""
    texts = [*asked.get(CHOSEN, "").split("."), *asked.getlist(PICK)]
    numbers = (int(text) for text in texts if NUMBER.fullmatch(text))
    return list(dict.fromkeys(numbers))[: photos.MOST_CHOSEN]


@require_safe
@door(Deed.SEE)
def index(request: OrchardRequest) -> HttpResponse:
    form = LibraryForm(request.GET, offered=Offered.to(request.member))
    filters = form.filters(request.today)
    page = photos.library(request.member, filters, after=paging.key_in(request))
    doubles = photos.doubles_of((each.photo for each in page.rows), request.member)
    keeps = permissions.may(request.member, Deed.KEEP_PHOTOS)
    chosen = chosen_in(request.GET) if keeps else []
    here = {shown.photo.pk for shown in page.rows}
    context = {
        "form": form,
        "filters": filters,
        "narrowing": form.narrowing(),
        "stories": [
            PhotoStory.written(shown, doubles.get(shown.photo.pk))
            for shown in page.rows
        ],
        "next_key": page.next_key,
        "is_first": not paging.key_in(request),
        "keeps": keeps,
        "picked": here.intersection(chosen),
        "carried": ".".join(str(each) for each in chosen if each not in here),
        "carried_count": len([each for each in chosen if each not in here]),
        "chosen_count": len(chosen),
        "most": photos.MOST_CHOSEN,
    }
    return render(request, "photos/index.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.KEEP_PHOTOS)
def chosen(request: OrchardRequest) -> HttpResponse:
    if request.method != "POST":
        return render(request, "photos/chosen.html", page_of(request))
    form = DescribeManyForm(request.POST)
    if form.is_valid():
        with answers.refusals(form):
            count = photos.describe_many(
                rows_of(request), member=request.member, now=request.now, **form.words
            )
            text = ngettext(
                "%(count)d photo described.", "%(count)d photos described.", count
            )
            return answers.done(request, text % {"count": count}, to=back(request))
    return answers.refused_page(
        request, "photos/chosen.html", page_of(request, form=form)
    )


@require_POST
@door(Deed.KEEP_PHOTOS)
def chosen_consents(request: OrchardRequest) -> HttpResponse:
    form = ConsentForm(request.POST)
    if form.is_valid():
        with answers.refusals(form):
            count = photos.note_consent_to_many(
                rows_of(request),
                member=request.member,
                now=request.now,
                **form.cleaned_data,
            )
            text = ngettext(
                "Consent noted for %(count)d photo.",
                "Consent noted for %(count)d photos.",
                count,
            )
            return answers.done(request, text % {"count": count}, to=back(request))
    return answers.refused_page(
        request, "photos/chosen.html", page_of(request, consent=form)
    )


@require_POST
@door(Deed.KEEP_TALKS)
def chosen_talk(request: OrchardRequest) -> HttpResponse:
    form = TalkFromChosenForm(request.POST)
    if form.is_valid():
        with answers.refusals(form):
            talk_set = talks.start(
                request.orchard,
                title=form.cleaned_data["title"],
                photos=rows_of(request),
                by=request.user,
                now=request.now,
            )
            to = reverse("talk-show", args=[request.orchard.slug, talk_set.pk])
            return answers.done(request, _("Talk set started."), to=to)
    return answers.refused_page(
        request, "photos/chosen.html", page_of(request, talk=form)
    )


def asked_of(request: HttpRequest) -> QueryDict:
    """Return what the page was asked with: its address, or what its forms carry."""
    if request.method == "POST":
        return QueryDict(request.POST.get("at", "")[:4000])
    return request.GET


def rows_of(request: OrchardRequest) -> list[Photo]:
    shown = photos.chosen_photos(request.member, chosen_in(asked_of(request)))
    return [each.photo for each in shown]


def back(request: OrchardRequest) -> str:
    """Return the address of the page of what is chosen, to go on from."""
    url = reverse("photos-chosen", args=[request.orchard.slug])
    return f"{url}?{asked_of(request).urlencode()}"


def page_of(
    request: OrchardRequest,
    *,
    form: DescribeManyForm | None = None,
    consent: ConsentForm | None = None,
    talk: TalkFromChosenForm | None = None,
) -> dict[str, Any]:
    """Return what the page of chosen photos shows."""
    may_start = permissions.may(request.member, Deed.KEEP_TALKS)
    asked = asked_of(request)
    shown = photos.chosen_photos(request.member, chosen_in(asked))
    at = asked.urlencode()
    url = reverse("photos", args=[request.orchard.slug])
    return {
        "stories": [PhotoStory.written(each) for each in shown],
        "at": at,
        "back_url": f"{url}?{at}" if at else url,
        "form": form or DescribeManyForm(),
        "consent_form": consent or ConsentForm(initial={"given_on": request.today}),
        "talk_form": (talk or TalkFromChosenForm()) if may_start else None,
        "uses": uses_of([each.photo for each in shown], request.member),
    }


def uses_of(chosen: Sequence[Photo], member: Membership) -> list[tuple[Any, int]]:
    """Tell of each use how many of the chosen photos are ready for it."""
    uses = (Photo.Audience.TALKS, Photo.Audience.PUBLIC)
    lacking = photos.lacking(chosen, uses, member)
    return [
        (use.label, sum(not missing for missing in lacking[use].values()))
        for use in uses
    ]
