"""Forms for signing in, passwords, invitations and roles."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from orchard.records.models import Membership
from orchard.web.fields import ColumnOfChoices

Role = Membership.Role

ROLES = [
    (Role.VOLUNTEER, _("Volunteer: looks at trees and does the work")),
    (Role.LEAD, _("Crew lead: also hands work over, keeps trees, takes second looks")),
    (Role.EDUCATOR, _("Educator: also keeps the photos")),
    (Role.OFFICE, _("Programme office: reads, and reads the ledger; no work on trees")),
    (Role.COORDINATOR, _("Coordinator: all of it, with people, rules and register")),
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
            "required": _("Write the e-mail address."),
            "invalid": _("Write the whole e-mail address, like name@example.org."),
        },
    )


def _name() -> forms.CharField:
    return forms.CharField(
        label=_("Your name"),
        help_text=_("As the others know you. It stands beside what you record."),
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={"required": _("Write the name that others know you by.")},
    )


class SignIn(forms.Form):
    email = _email(_("E-mail address"), autocomplete="username")
    password = _old_password(_("Password"))
    next = forms.CharField(required=False, widget=forms.HiddenInput)


class Forgotten(forms.Form):
    email = _email(_("E-mail address"), autocomplete="username")


class TwiceTyped(forms.Form):
    """A new password, typed twice so that a slip does not lock its owner out."""

    password = _new_password(
        _("New password"),
        _("At least 10 letters or signs. Four words in a row are easy to keep."),
    )
    again = _new_password(_("The same once more"))

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        first, second = values.get("password"), values.get("again")
        if first and second and first != second:
            self.add_error("again", _("The two are not the same. Type both again."))
        return values


class NewPassword(TwiceTyped):
    pass


class ChangePassword(TwiceTyped):
    old = _old_password(_("Old password"))
    field_order = ["old", "password", "again"]


class Join(TwiceTyped):
    name = _name()
    field_order = ["name", "password", "again"]


class Rename(forms.Form):
    name = _name()


class RoleChoice(forms.Form):
    role = forms.ChoiceField(
        label=_("Role"),
        choices=ROLES,
        widget=ColumnOfChoices,
        error_messages={"required": _("Choose a role.")},
    )


class Invite(RoleChoice):
    email = _email(_("E-mail address"), autocomplete="off")
    field_order = ["email", "role"]
