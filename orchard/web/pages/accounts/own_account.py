"""One's own account: name and orchards."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orchard.services import accounts, permissions
from orchard.services.errors import Refused
from orchard.services.permissions import Deed
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.pages.accounts import forms
from orchard.web.requests import OrchardRequest, SignedInRequest


@require_safe
@login_required
def account(request: SignedInRequest) -> HttpResponse:
    context = {"memberships": permissions.orchards_of(request.user)}
    return render(request, "accounts/account.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def change_name(request: SignedInRequest) -> HttpResponse:
    if request.method != "POST":
        form = forms.OwnDetailsForm(
            initial={"name": request.user.name, "phone": request.user.phone}
        )
        return render(request, "accounts/change_name.html", {"form": form})
    form = forms.OwnDetailsForm(request.POST)
    if form.is_valid():
        with answers.refusals(form):
            accounts.correct_own_details(
                request.user, now=timezone.now(), **form.cleaned_data
            )
            return answers.done(request, _("Your details are saved."), to="account")
    return answers.refused_page(request, "accounts/change_name.html", {"form": form})


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.SEE)
def leave_orchard(request: OrchardRequest) -> HttpResponse:
    context: dict[str, Refused | None] = {"refusal": None}
    if request.method == "POST":
        try:
            accounts.leave(request.member, by=request.user, now=request.now)
        except Refused as refusal:
            context["refusal"] = refusal
            return answers.refused_page(request, "accounts/leave_orchard.html", context)
        message = _("You have left %(orchard)s.") % {"orchard": request.orchard.name}
        return answers.done(request, message, to="account")
    return render(request, "accounts/leave_orchard.html", context)
