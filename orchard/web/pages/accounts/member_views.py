"""The people of an orchard: members, roles, invitations."""

from __future__ import annotations

from typing import Any

from django.contrib.auth import login
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from orchard.records.models import Invitation, Membership
from orchard.services import accounts, permissions
from orchard.services.errors import Refused
from orchard.services.permissions import Deed
from orchard.web import answers, mails
from orchard.web.doorkeeper import door
from orchard.web.pages import home
from orchard.web.pages.accounts import forms
from orchard.web.requests import OrchardRequest


@require_safe
@door(Deed.KEEP_PEOPLE)
def members(request: OrchardRequest) -> HttpResponse:
    context = {
        "fellows": accounts.members(request.orchard),
        "invitations": accounts.open_invitations(request.orchard, now=request.now),
        "has_mail": mails.can_send(),
    }
    return render(request, "accounts/members.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.KEEP_PEOPLE)
def invite(request: OrchardRequest) -> HttpResponse:
    form = forms.InvitationForm(request.POST or None)
    if request.method == "POST":
        if form.is_valid():
            with answers.refusals(form):
                invited = accounts.invite(
                    request.orchard,
                    by=request.user,
                    now=request.now,
                    **form.cleaned_data,
                )
                return _invited(request, invited)
        return answers.refused_page(request, "accounts/invite.html", {"form": form})
    return render(request, "accounts/invite.html", {"form": form})


def _invited(request: OrchardRequest, invited: accounts.Invited) -> HttpResponse:
    """Send the link and show it once: it is kept nowhere and cannot be shown again."""
    context = {
        "invitation": invited.invitation,
        "link": mails.address_of("join", invited.token),
        "days": accounts.DAYS_VALID,
    }
    email = invited.invitation.email
    delivery = mails.send("accounts/mail_invitation.txt", to=email, context=context)
    return render(request, "accounts/invited.html", {**context, "delivery": delivery})


@require_POST
@door(Deed.KEEP_PEOPLE)
def withdraw_invitation(request: OrchardRequest, number: int) -> HttpResponse:
    invitation = permissions.invitation_for(request.member, number)
    slug = request.orchard.slug
    try:
        accounts.withdraw_invitation(invitation, by=request.user, now=request.now)
    except Refused as refusal:
        return _people_again(request, refusal)
    message = _("The invitation to %(email)s is withdrawn. Its link no longer works.")
    message %= {"email": invitation.email}
    return answers.done(request, message, to="people", orchard=slug)


@never_cache
@require_POST
@door(Deed.KEEP_PEOPLE)
def password_link(request: OrchardRequest, number: int) -> HttpResponse:
    """Show a link for a new password once: it is kept nowhere."""
    fellow = permissions.fellow_for(request.member, number)
    if mails.can_send():
        message = _(
            "The app sends mail here. The person asks for a link on the sign-in page."
        )
        return _people_again(request, Refused(message, code="mail_is_set"))
    try:
        parts = accounts.make_link(fellow, by=request.user, now=request.now)
    except Refused as refusal:
        return _people_again(request, refusal)
    context = {"fellow": fellow, "link": mails.address_of("password-new", *parts)}
    return render(request, "accounts/password_link.html", context)


def _people_again(request: OrchardRequest, refusal: Refused) -> HttpResponse:
    context = {
        "fellows": accounts.members(request.orchard),
        "invitations": accounts.open_invitations(request.orchard, now=request.now),
        "has_mail": mails.can_send(),
        "refusal": refusal,
    }
    return answers.refused_page(request, "accounts/members.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.KEEP_PEOPLE)
def change_role(request: OrchardRequest, number: int) -> HttpResponse:
    fellow = permissions.fellow_for(request.member, number)
    if request.method != "POST":
        form = forms.RoleForm(initial={"role": fellow.role})
        return render(
            request, "accounts/change_role.html", {"form": form, "fellow": fellow}
        )
    form = forms.RoleForm(request.POST)
    if form.is_valid():
        with answers.refusals(form):
            fellow = accounts.change_role(
                fellow, by=request.user, now=request.now, **form.cleaned_data
            )
            return _role_changed(request, fellow)
    context = {"form": form, "fellow": fellow}
    return answers.refused_page(request, "accounts/change_role.html", context)


def _role_changed(request: OrchardRequest, fellow: Membership) -> HttpResponse:
    message = _("%(name)s is %(role)s now.") % {
        "name": fellow.user.name,
        "role": fellow.get_role_display(),
    }
    if fellow.user == request.user:
        # Who gives up this role may not see the people page any more.
        return answers.done(request, message, to="home", orchard=request.orchard.slug)
    return answers.done(request, message, to="people", orchard=request.orchard.slug)


@require_http_methods(["GET", "HEAD", "POST"])
@door(Deed.KEEP_PEOPLE)
def end_membership(request: OrchardRequest, number: int) -> HttpResponse:
    fellow = permissions.fellow_for(request.member, number)
    context: dict[str, Any] = {"fellow": fellow}
    if request.method != "POST":
        return render(request, "accounts/end_membership.html", context)
    try:
        given_back = accounts.leave(fellow, by=request.user, now=request.now)
    except Refused as refusal:
        context["refusal"] = refusal
        return answers.refused_page(request, "accounts/end_membership.html", context)
    message = _("%(name)s is no longer a member of this orchard.") % {
        "name": fellow.user.name
    }
    if given_back:
        message += " " + ngettext(
            "%(count)d task is free again.",
            "%(count)d tasks are free again.",
            given_back,
        ) % {"count": given_back}
    if fellow.user == request.user:
        return answers.done(request, message, to="account")
    return answers.done(request, message, to="people", orchard=request.orchard.slug)


@never_cache
@sensitive_post_parameters("password", "again")
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest, token: str) -> HttpResponse:
    """Let the reader of an invitation in, as a known person or as a new one."""
    try:
        invitation = accounts.read_invitation(token, now=timezone.now())
    except Refused as refusal:
        context = {"refusal": refusal}
        return render(request, "accounts/join_over.html", context, status=410)
    if invitation is None:
        raise Http404
    if request.user.is_authenticated:
        return _join_known(request, invitation)
    if accounts.user_by_email(invitation.email):
        return render(request, "accounts/join_sign_in.html", {"invitation": invitation})
    return _join_new(request, invitation)


def _join_known(request: Any, invitation: Invitation) -> HttpResponse:
    context: dict[str, Any] = {
        "invitation": invitation,
        "is_other": invitation.email != request.user.email,
    }
    if request.method != "POST":
        return render(request, "accounts/join_known.html", context)
    try:
        member = accounts.accept_invitation(
            invitation, now=timezone.now(), user=request.user
        )
    except Refused as refusal:
        context["refusal"] = refusal
        return answers.refused_page(request, "accounts/join_known.html", context)
    return _joined(request, member)


def _join_new(request: HttpRequest, invitation: Invitation) -> HttpResponse:
    form = forms.JoinForm(request.POST or None)
    context = {"form": form, "invitation": invitation}
    if request.method != "POST":
        return render(request, "accounts/join_new.html", context)
    if form.is_valid():
        with answers.refusals(form):
            member = accounts.accept_invitation(
                invitation,
                now=timezone.now(),
                name=form.cleaned_data["name"],
                password=form.cleaned_data["password"],
            )
            login(request, member.user)
            return _joined(request, member, to=home.first_page(member.user))
    return answers.refused_page(request, "accounts/join_new.html", context)


def _joined(request: HttpRequest, member: Membership, to: str = "") -> HttpResponse:
    message = _("Welcome to %(orchard)s. You are %(role)s here.") % {
        "orchard": member.orchard.name,
        "role": member.get_role_display(),
    }
    to = to or reverse("home", args=[member.orchard.slug])
    return answers.done(request, message, to=to)
