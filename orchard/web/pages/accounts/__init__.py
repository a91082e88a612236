"""Signing in, one's own account, the people of an orchard."""

from __future__ import annotations

from orchard.web.pages.accounts.member_views import (
    change_role,
    end_membership,
    invite,
    join,
    members,
    withdraw_invitation,
)
from orchard.web.pages.accounts.own_account import (
    account,
    change_name,
    change_password,
    leave_orchard,
)
from orchard.web.pages.accounts.sign_in_views import (
    back_room_sign_in,
    password_forgotten,
    password_new,
    sign_in,
    sign_out,
)

__all__ = [
    "account",
    "back_room_sign_in",
    "change_name",
    "change_password",
    "change_role",
    "end_membership",
    "invite",
    "join",
    "leave_orchard",
    "members",
    "password_forgotten",
    "password_new",
    "sign_in",
    "sign_out",
    "withdraw_invitation",
]
