"""People and their accounts: signing in, passwords, members, invitations."""

from __future__ import annotations

from orchard.services.accounts.invitations import (
    DAYS_VALID,
    Invited,
    accept_invitation,
    invite,
    open_invitations,
    read_invitation,
    withdraw_invitation,
)
from orchard.services.accounts.membership import (
    change_role,
    check_phone,
    correct_own_details,
    enrol,
    leave,
    members,
    user_by_email,
)
from orchard.services.accounts.passwords import (
    LINK_OVER,
    change_password,
    check_password_is_good,
    link_parts,
    make_link,
    request_link,
    set_first_password,
    set_password_by_link,
)
from orchard.services.accounts.signing_in import sign_in

__all__ = [
    "DAYS_VALID",
    "LINK_OVER",
    "Invited",
    "accept_invitation",
    "change_password",
    "change_role",
    "check_password_is_good",
    "check_phone",
    "correct_own_details",
    "enrol",
    "invite",
    "leave",
    "link_parts",
    "make_link",
    "members",
    "open_invitations",
    "read_invitation",
    "request_link",
    "set_first_password",
    "set_password_by_link",
    "sign_in",
    "user_by_email",
    "withdraw_invitation",
]
