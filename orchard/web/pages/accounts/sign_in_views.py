"""Signing in and out, and the way back in when the password is forgotten.

The views are Django's own. The forms ask the services, which guard the tries and write
the ledger; the link in the mail is Django's, built on the setting of this site.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.contrib.auth import views
from django.contrib.messages.views import SuccessMessageMixin
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse, reverse_lazy
from django.utils.decorators import method_decorator
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache

from orchard.records.models import User
from orchard.services import accounts
from orchard.web import answers, mails
from orchard.web.pages import home
from orchard.web.pages.accounts import forms

if TYPE_CHECKING:
    # Generic for the type checker alone.
    SuccessMessage = SuccessMessageMixin[Any]
else:
    SuccessMessage = SuccessMessageMixin


class AnotherPageMixin(views.RedirectURLMixin):
    """Lead on to the page that was asked for, unless it is this one."""

    request: HttpRequest

    # The stubs give it an argument that Django does not.
    def get_redirect_url(self) -> str:  # type: ignore[override]
        """Return the page asked for; Django answers a circle with an error."""
        wanted = super().get_redirect_url()
        return "" if wanted.partition("?")[0] == self.request.path else wanted


def if_new(user: User | None) -> User | None:
    """Return somebody who has never signed in; asked before they are signed in."""
    return user if user is not None and user.last_login is None else None


class SignInView(AnotherPageMixin, answers.RefusableFormMixin, views.LoginView):
    # Django asks this form for its user; the stubs want it to be of one class.
    form_class = forms.SignInForm  # type: ignore[assignment]
    template_name = "accounts/sign_in.html"
    redirect_authenticated_user = True
    newcomer: User | None = None

    def form_valid(self, form: Any) -> HttpResponse:
        self.newcomer = if_new(form.get_user())
        return super().form_valid(form)

    def get_success_url(self) -> str:
        """Lead on, a new volunteer by way of what to know before the first tree."""
        wanted = self.get_redirect_url()
        first = home.first_page(self.newcomer, wanted) if self.newcomer else ""
        return first or super().get_success_url()


class SignOutView(AnotherPageMixin, views.LogoutView):
    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Sign out, and say so on the page behind."""
        answer = super().post(request, *args, **kwargs)
        messages.success(request, _("You are signed out."))
        # The cache only: "storage" would wipe the outbox, and records with it.
        answer["Clear-Site-Data"] = '"cache"'
        return answer


def back_room_sign_in(request: HttpRequest) -> HttpResponse:
    """Send the back room's own sign-in to ours, so that one throttle guards both."""
    if request.user.is_authenticated:
        return render(request, "403.html", {}, status=403)
    wanted = request.GET.get("next") or reverse("admin:index")
    return redirect(f"{reverse('sign-in')}?{urlencode({'next': wanted})}")


@method_decorator(never_cache, name="dispatch")
class PasswordForgottenView(answers.RefusableFormMixin, views.PasswordResetView):
    form_class = forms.PasswordLinkForm
    template_name = "accounts/password_forgotten.html"
    email_template_name = "accounts/mail_link.txt"
    success_url = reverse_lazy("sign-in")

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"request": self.request}

    def get_context_data(self, **context: Any) -> dict[str, Any]:
        return super().get_context_data(has_mail=mails.can_send(), **context)

    def form_valid(self, form: Any) -> HttpResponse:
        """Answer everybody alike, at once: it does not tell who is known here."""
        super().form_valid(form)
        return render(self.request, "accounts/link_sent.html", form.cleaned_data)


class NewPasswordView(
    answers.RefusableFormMixin, SuccessMessage, views.PasswordResetConfirmView
):
    # Django asks this form to save; the stubs want it to be of one class.
    form_class = forms.NewPasswordForm  # type: ignore[assignment]
    template_name = "accounts/new_password.html"
    success_url = reverse_lazy("start")
    success_message = gettext_lazy("Password changed. You are signed in.")
    post_reset_login = True
    newcomer: User | None = None

    def get_user(self, uidb64: str) -> User | None:
        """Return whose password the link sets; a closed account stays closed."""
        user = super().get_user(uidb64)
        return user if user is not None and user.is_active else None

    def get_form_kwargs(self) -> dict[str, Any]:
        token = self.request.session.get(views.INTERNAL_RESET_SESSION_TOKEN, "")
        return super().get_form_kwargs() | {"token": token}

    def form_valid(self, form: Any) -> HttpResponse:
        self.newcomer = if_new(self.user)
        return super().form_valid(form)

    def get_success_url(self) -> str:
        first = home.first_page(self.newcomer) if self.newcomer else ""
        return first or super().get_success_url()

    def render_to_response(
        self, context: dict[str, Any], **options: Any
    ) -> HttpResponse:
        """Show the form, or say that the link is over."""
        if self.validlink:
            return super().render_to_response(context, **options)
        context = {"refusal": accounts.LINK_OVER}
        return render(self.request, "accounts/link_over.html", context, status=410)


class ChangePasswordView(
    answers.RefusableFormMixin, SuccessMessage, views.PasswordChangeView
):
    # As above.
    form_class = forms.ChangePasswordForm  # type: ignore[assignment]
    template_name = "accounts/change_password.html"
    success_url = reverse_lazy("account")
    success_message = gettext_lazy(
        "Your password is changed. Other devices are signed out."
    )
