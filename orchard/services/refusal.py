"""Anticipated refusals, told in words a person can act on."""

from __future__ import annotations


class Refused(Exception):
    """Something asked for cannot be done; the message says why and what to do.

    `field` names the form field it belongs to, when it belongs to one.
    """

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.field = field

    def __str__(self) -> str:
        return str(self.message)
