"""Signing in and out, and the way back in when the password is forgotten."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth import login, logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from orchard.services import accounts
from orchard.services.errors import Refused
from orchard.web import answers, mails
from orchard.web.doorkeeper import caller_address
from orchard.web.pages.accounts import forms


def way_on(request: HttpRequest, wanted: str) -> str:
    """Return where to go after signing in: the page asked for, if it is ours."""
    ours = url_has_allowed_host_and_scheme(
        wanted,
        allowed_hosts={request.get_host()},
        require_https=request.is_secure(),
    )
    return wanted if ours else resolve_url(settings.LOGIN_REDIRECT_URL)


def address_of(request: HttpRequest) -> str | None:
    return caller_address(request, trusted_proxies=settings.TRUSTED_PROXIES)


@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    wanted = request.POST.get("next") or request.GET.get("next", "")
    if request.method != "POST":
        if request.user.is_authenticated:
            return redirect(way_on(request, wanted))
        form = forms.SignIn(initial={"next": wanted})
        return render(request, "accounts/sign_in.html", {"form": form})
    form = forms.SignIn(request.POST)
    if form.is_valid():
        with answers.refusals(form):
            user = accounts.sign_in(
                form.cleaned_data["email"],
                form.cleaned_data["password"],
                address=address_of(request),
                now=timezone.now(),
            )
            login(request, user)
            return redirect(way_on(request, wanted))
    return answers.refused_page(request, "accounts/sign_in.html", {"form": form})


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    answer = answers.done(request, _("You are signed out."), to="sign-in")
    # The cache only: "storage" would wipe the outbox, and records with it.
    answer["Clear-Site-Data"] = '"cache"'
    return answer


def back_room_sign_in(request: HttpRequest) -> HttpResponse:
    """Send the back room's own sign-in to ours, so that one throttle guards both."""
    if request.user.is_authenticated:
        return render(request, "403.html", {}, status=403)
    wanted = request.GET.get("next") or reverse("admin:index")
    return redirect(f"{reverse('sign-in')}?{urlencode({'next': wanted})}")


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def password_forgotten(request: HttpRequest) -> HttpResponse:
    form = forms.Forgotten(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with answers.refusals(form):
            user = accounts.request_link(
                form.cleaned_data["email"],
                address=address_of(request),
                now=timezone.now(),
            )
            if user is not None:
                send_link(user)
            # The same page for everybody: it does not tell who is known here.
            asked = {"email": form.cleaned_data["email"]}
            return render(request, "accounts/link_sent.html", asked)
    if request.method == "POST":
        return answers.refused_page(
            request, "accounts/password_forgotten.html", {"form": form}
        )
    return render(request, "accounts/password_forgotten.html", {"form": form})


def send_link(user: Any) -> bool:
    link = mails.address_of("password-new", *accounts.link_parts(user))
    return mails.send(
        "accounts/mail_link.txt", to=user.email, context={"user": user, "link": link}
    )


@never_cache
@sensitive_post_parameters("password", "again")
@require_http_methods(["GET", "HEAD", "POST"])
def password_new(request: HttpRequest, uid: str, token: str) -> HttpResponse:
    form = forms.NewPassword(request.POST or None)
    try:
        user = accounts.user_of_link(uid, token)
        if request.method == "POST" and form.is_valid():
            chosen = form.cleaned_data["password"]
            user = accounts.set_password_by_link(
                uid, token, password=chosen, now=timezone.now()
            )
            login(request, user)
            message = _("Your new password holds from now on. You are signed in.")
            return answers.done(request, message, to="start")
    except Refused as refusal:
        if refusal.code == "link_over":
            context = {"refusal": refusal}
            return render(request, "accounts/link_over.html", context, status=410)
        answers.refused(form, refusal)
    context = {"form": form, "owner": user}
    if request.method == "POST":
        return answers.refused_page(request, "accounts/new_password.html", context)
    return render(request, "accounts/new_password.html", context)
