"""Anticipated refusals, told in words a person can act on."""

from __future__ import annotations

from http import HTTPStatus

from django.utils.translation import gettext as _


class Refused(Exception):
    """Something asked for cannot be done; the message says why and what to do.

    `code` names the reason to programs and tests. `field` names the form field it
    belongs to, when it belongs to one. `status` is what a page answers with.
    """

    status = HTTPStatus.UNPROCESSABLE_ENTITY

    def __init__(self, message: str, *, code: str, field: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.code = code
        self.field = field

    def __str__(self) -> str:
        return str(self.message)


class MayNot(Refused):
    """The person is a member, but this is not theirs to do."""

    status = HTTPStatus.FORBIDDEN

    def __init__(
        self, message: str, *, code: str = "may_not", field: str | None = None
    ) -> None:
        super().__init__(message, code=code, field=field)


class NotThere(Refused):
    """There is no such thing for this person."""

    status = HTTPStatus.NOT_FOUND

    def __init__(self) -> None:
        super().__init__(
            _("This doesn't exist, or you may not see it."), code="not_there"
        )


def require_reason(reason: str, *, most: int = 500) -> str:
    """Return a reason as it is kept, trimmed and cut; refuse an empty one.

    `most` is how many letters its column takes.

    Raises:
        Refused (reason_missing): nothing is said.
    """
    if not reason.strip():
        raise Refused(
            _("Give the reason, so that others can follow it."),
            code="reason_missing",
            field="reason",
        )
    return reason.strip()[:most]
