"""Signing in, one's own account, the people of an orchard."""

from __future__ import annotations

from orchard.web.pages.accounts.member_views import (
    change_role,
    end_membership,
    invite,
    join,
    members,
    password_link,
    withdraw_invitation,
)
from orchard.web.pages.accounts.own_account import (
    account,
    change_name,
    leave_orchard,
)
from orchard.web.pages.accounts.sign_in_views import (
    ChangePasswordView,
    NewPasswordView,
    PasswordForgottenView,
    SignInView,
    SignOutView,
    back_room_sign_in,
)

__all__ = [
    "ChangePasswordView",
    "NewPasswordView",
    "PasswordForgottenView",
    "SignInView",
    "SignOutView",
    "account",
    "back_room_sign_in",
    "change_name",
    "change_role",
    "end_membership",
    "invite",
    "join",
    "leave_orchard",
    "members",
    "password_link",
    "withdraw_invitation",
]
