"""One's own account: name, password, orchards."""

from __future__ import annotations

from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from orchard.services import access, passwords, people
from orchard.services.access import Deed
from orchard.services.refusal import Refused
from orchard.web import answers
from orchard.web.doorkeeper import door
from orchard.web.forms import people as forms
from orchard.web.requests import OrchardRequest


@require_safe
@login_required
def account(request: HttpRequest) -> HttpResponse:
    context = {"memberships": access.orchards_of(request.user)}
    return render(request, "account/show.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def name(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        form = forms.Rename(initial={"name": request.user.name})
        return render(request, "account/name.html", {"form": form})
    form = forms.Rename(request.POST)
    if form.is_valid():
        with answers.refusals(form):
            people.rename(request.user, now=timezone.now(), **form.cleaned_data)
            return answers.done(request, _("Your name is changed."), to="account")
    return answers.refused_page(request, "account/name.html", {"form": form})


@sensitive_post_parameters("old", "password", "again")
@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def password(request: HttpRequest) -> HttpResponse:
    form = forms.ChangePassword(request.POST or None)
    if request.method == "POST":
        if form.is_valid():
            with answers.refusals(form):
                user = passwords.change(
                    request.user,
                    old=form.cleaned_data["old"],
                    password=form.cleaned_data["password"],
                    now=timezone.now(),
                )
                update_session_auth_hash(request, user)
                said = _("Your password is changed. Other devices are signed out.")
                return answers.done(request, said, to="account")
        return answers.refused_page(request, "account/password.html", {"form": form})
    return render(request, "account/password.html", {"form": form})


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.SEE)
def leaving(request: OrchardRequest) -> HttpResponse:
    context = {"refusal": None}
    if request.method == "POST":
        try:
            people.leave(request.member, by=request.user, now=request.now)
        except Refused as refusal:
            context["refusal"] = refusal
            return answers.refused_page(request, "account/leaving.html", context)
        said = _("You have left %(orchard)s.") % {"orchard": request.orchard.name}
        return answers.done(request, said, to="account")
    return render(request, "account/leaving.html", context)
