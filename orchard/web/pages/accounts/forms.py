"""Forms for signing in, passwords, invitations and roles."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.contrib.auth.forms import PasswordResetForm
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Membership, User
from orchard.services import accounts
from orchard.web import answers, mails
from orchard.web.doorkeeper import caller_address
from orchard.web.fields import ColumnOfChoices

Role = Membership.Role

ROLES = [
    (Role.VOLUNTEER, _("Volunteer: inspects trees and does tasks")),
    (
        Role.LEAD,
        _("Crew lead: also assigns tasks, manages trees, answers second looks"),
    ),
    (Role.EDUCATOR, _("Educator: also manages photos")),
    (Role.OFFICE, _("Programme office: reads records and the ledger; no tasks")),
    (Role.COORDINATOR, _("Coordinator: all of it, and people, rules and imports")),
]


def _old_password(label: Any) -> forms.CharField:
    return forms.CharField(
        label=label,
        strip=False,
        max_length=4096,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": _("Type your password.")},
    )


def _new_password(label: Any, help_text: Any = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        help_text=help_text,
        strip=False,
        max_length=4096,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        error_messages={"required": _("Choose a password.")},
    )


def _email(label: Any, **attrs: str) -> forms.EmailField:
    return forms.EmailField(
        label=label,
        max_length=254,
        widget=forms.EmailInput(
            attrs={"autocapitalize": "none", "spellcheck": "false", **attrs}
        ),
        error_messages={
            "required": _("Enter the e-mail address."),
            "invalid": _("Enter the whole e-mail address, like name@example.org."),
        },
    )


def _name() -> forms.CharField:
    return forms.CharField(
        label=_("Your name"),
        help_text=_("The name others know you by. It is shown beside what you record."),
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={"required": _("Enter the name that others know you by.")},
    )


def _address_of(request: HttpRequest) -> str | None:
    return caller_address(request, trusted_proxies=settings.TRUSTED_PROXIES)


class SignInForm(forms.Form):
    email = _email(_("E-mail address"), autocomplete="username")
    password = _old_password(_("Password"))

    def __init__(self, request: HttpRequest, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.request = request

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if not self.errors:
            with answers.refusals(self):
                self.user = accounts.sign_in(
                    values["email"],
                    values["password"],
                    address=_address_of(self.request),
                    now=timezone.now(),
                )
        return values

    def get_user(self) -> User:
        """Return who signs in."""
        return self.user


class PasswordLinkForm(PasswordResetForm):
    """An e-mail address to which a link for a new password is sent, if it is known."""

    email = _email(_("E-mail address"), autocomplete="username")

    def __init__(self, request: HttpRequest, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.request = request

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if not self.errors:
            with answers.refusals(self):
                self.user = accounts.request_link(
                    values["email"],
                    address=_address_of(self.request),
                    now=timezone.now(),
                )
        return values

    def get_users(self, email: str) -> list[User]:
        """Return who is sent a link: also those who never had a password."""
        return [] if self.user is None else [self.user]

    def send_mail(
        self,
        subject_template_name: str,
        email_template_name: str,
        context: dict[str, Any],
        from_email: str | None,
        to_email: str,
        html_email_template_name: str | None = None,
    ) -> None:
        """Send the link in the mail of this site, at the address of the setting."""
        link = mails.address_of("password-new", context["uid"], context["token"])
        # The page comes at once, as it does where nobody is sent anything.
        mails.hand_over(
            email_template_name, to=to_email, context=context | {"link": link}
        )


class TwiceTypedForm(forms.Form):
    """A new password, typed twice so that a slip does not lock its owner out."""

    password = _new_password(
        _("New password"),
        _("At least 10 characters. Four words in a row are easy to remember."),
    )
    again = _new_password(_("Repeat it"))

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        first, second = values.get("password"), values.get("again")
        if first and second and first != second:
            self.add_error("again", _("The two passwords differ. Type both again."))
        return values


class NewPasswordForm(TwiceTypedForm):
    """A new password, chosen by whoever opened the link in the mail."""

    def __init__(self, user: User, *args: Any, token: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.user = user
        self.token = token

    def save(self) -> User:
        # Without somebody whose link it is the view shows no form.
        assert self.user is not None
        return accounts.set_password_by_link(
            self.user,
            self.token,
            password=self.cleaned_data["password"],
            now=timezone.now(),
        )


class ChangePasswordForm(TwiceTypedForm):
    old = _old_password(_("Old password"))
    field_order = ["old", "password", "again"]

    def __init__(self, user: User, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.user = user

    def save(self) -> User:
        self.user = accounts.change_password(
            self.user,
            old=self.cleaned_data["old"],
            password=self.cleaned_data["password"],
            now=timezone.now(),
        )
        return self.user


class JoinForm(TwiceTypedForm):
    name = _name()
    field_order = ["name", "password", "again"]


class OwnDetailsForm(forms.Form):
    name = _name()
    phone = forms.CharField(
        label=_("Your phone number (optional)"),
        help_text=_("Coordinators and crew leads of your orchards can see it."),
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "tel"}),
    )


class RoleForm(forms.Form):
    role = forms.ChoiceField(
        label=_("Role"),
        choices=ROLES,
        widget=ColumnOfChoices,
        error_messages={"required": _("Choose a role.")},
    )


class InvitationForm(RoleForm):
    email = _email(_("E-mail address"), autocomplete="off")
    field_order = ["email", "role"]
