"""Consents of people in view: noted on the page of a photo, and withdrawn."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from orchard.services import permissions, photos
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.photos.forms import ConsentForm, ConsentWithdrawalForm
from orchard.web.pages.photos.views import shown
from orchard.web.requests import OrchardRequest


@require_POST
@door(Deed.KEEP_PHOTOS)
def note_consent(request: OrchardRequest, name: UUID) -> HttpResponse:
    photo = permissions.photo_for(request.member, name)
    form = ConsentForm(request.POST)
    if form.is_valid():
        with answers.refusals(form):
            photos.note_consent(
                photo, member=request.member, now=request.now, **form.cleaned_data
            )
            to = reverse("photo-show", args=[request.orchard.slug, name])
            return answers.done(request, _("Consent noted."), to=to)
    page = shown(request, photo, consent=form)
    return answers.refused_page(request, "photos/show.html", page)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.KEEP_PHOTOS)
def withdraw_consent(request: OrchardRequest, name: UUID, number: int) -> HttpResponse:
    consent = permissions.consent_for(request.member, name, number)
    form = ConsentWithdrawalForm(
        request.POST if request.method == "POST" else None,
        initial={"withdrawn_on": request.today},
        others=photos.given_by(consent).exclude(photo=consent.photo).count(),
    )

    def save(*, by: Any, **fields: Any) -> None:
        photos.withdraw_consent(consent, member=request.member, **fields)

    return answers.reason_page(
        request,
        form,
        save,
        message=_("Consent withdrawn. The photo is no longer shown for that use."),
        back_url=reverse("photo-show", args=[request.orchard.slug, name]),
        back_label=_("Photo"),
        heading=_("Withdraw consent"),
        lead=_("%(name)s agreed to: %(use)s.")
        % {"name": consent.person, "use": consent.get_use_display()},
        explanation=_(
            "From now on the photo is shown for that use no more. What was agreed, and "
            "that it ended, stays on record."
        ),
        button=_("Withdraw consent"),
        button_class="danger",
    )
