"""One photo with its story, and the file itself, never without asking."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.conf import settings
from django.core.files.storage import default_storage
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from orchard.records.models import Photo, PhotoConsent
from orchard.services import permissions, photos
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.fields import ReasonForm
from orchard.web.pages.photos.forms import ConsentForm, DescriptionForm
from orchard.web.pages.photos.wording import PhotoStory
from orchard.web.requests import OrchardRequest


def shown(
    request: OrchardRequest,
    photo: Photo,
    *,
    form: DescriptionForm | None = None,
    withdrawal: ReasonForm | None = None,
    consent: ConsentForm | None = None,
) -> dict[str, Any]:
    """Return what the page of a photo shows."""
    keeps = permissions.may(request.member, Deed.KEEP_PHOTOS)
    mine = keeps or photo.by_id == request.user.pk
    today = request.today
    form = form or DescriptionForm.about(photo, keeps=keeps)
    [story] = photos.depicted([photo], request.member)
    lacking = {}
    if keeps and not photo.withdrawn_at:
        lacking = photos.lacking([photo], PhotoConsent.Use.values, request.member)
    return {
        "photo": photo,
        "story": PhotoStory.written(story),
        "alike": photos.alike(photo, request.member),
        "proven": photos.work_proven_by(photo, request.member),
        "keeps_talks": permissions.may(request.member, Deed.KEEP_TALKS),
        "uses": [
            (Photo.Audience(use).label, missing[photo.pk])
            for use, missing in lacking.items()
        ],
        "consents": photos.consents_to(photo) if keeps else (),
        "consent_form": consent or ConsentForm(initial={"given_on": today})
        if keeps and photo.people != Photo.People.NOBODY and not photo.withdrawn_at
        else None,
        "form": form if mine and not photo.withdrawn_at else None,
        "withdrawal": (withdrawal or ReasonForm(label=_("Why it is removed")))
        if mine and not photo.withdrawn_at
        else None,
    }


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.SEE)
def show(request: OrchardRequest, name: UUID) -> HttpResponse:
    photo = permissions.photo_for(request.member, name)
    if request.method != "POST":
        return render(request, "photos/show.html", shown(request, photo))
    keeps = permissions.may(request.member, Deed.KEEP_PHOTOS)
    form = DescriptionForm.about(photo, keeps=keeps, data=request.POST)
    if form.is_valid():
        with answers.refusals(form):
            photos.describe(
                photo, member=request.member, now=request.now, **form.cleaned_data
            )
            to = reverse("photo-show", args=[request.orchard.slug, name])
            return answers.done(request, _("Photo details saved."), to=to)
    page = shown(request, photo, form=form)
    return answers.refused_page(request, "photos/show.html", page)


@require_POST
@door(Deed.SEE)
def withdrawal(request: OrchardRequest, name: UUID) -> HttpResponse:
    photo = permissions.photo_for(request.member, name)
    form = ReasonForm(request.POST, label=_("Why it is removed"))
    if form.is_valid():
        with answers.refusals(form):
            photos.withdraw(
                photo, member=request.member, now=request.now, **form.cleaned_data
            )
            to = reverse("home", args=[request.orchard.slug])
            if photo.tree:
                to = reverse("tree-show", args=[request.orchard.slug, photo.tree.code])
            return answers.done(request, _("Photo removed."), to=to)
    page = shown(request, photo, withdrawal=form)
    return answers.refused_page(request, "photos/show.html", page)


@require_safe
@door(Deed.SEE)
def file(request: OrchardRequest, name: UUID, size: str) -> HttpResponse:
    """Send a size of a photo to who may see it; the original never leaves."""
    photo = permissions.photo_for(request.member, name)
    response = photo_answer(request, photo, size)
    # The name is random and its content never changes.
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    return response


def photo_answer(request: HttpRequest, photo: Photo, size: str) -> HttpResponse:
    """Answer with a size of a photo, for whom the caller has found it to be."""
    if size not in photos.SIZES:
        raise Http404
    tag = f'"{photo.name.hex}-{size}"'
    if request.headers.get("If-None-Match") == tag:
        response: HttpResponse = HttpResponseNotModified()
    else:
        response = sent(photos.path_of(photo.name, size))
        response["Content-Disposition"] = f'inline; filename="{photo.name}.jpg"'
    response["ETag"] = tag
    return response


def sent(path: str) -> HttpResponse:
    """Answer with a file of the store, through the web server where there is one."""
    response = HttpResponse(content_type="image/jpeg")
    if settings.PHOTO_REDIRECT:
        response["X-Accel-Redirect"] = f"{settings.PHOTO_REDIRECT.rstrip('/')}/{path}"
        return response
    try:
        with default_storage.open(path) as stored:
            response.content = stored.read()
    except FileNotFoundError:
        raise Http404 from None
    return response
