"""What a change to a place or tree needs: what differs, a reason, a day."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import models
from django.utils.translation import gettext as _

from orchard.services import audit
from orchard.services.errors import Refused, require_reason

EARLIEST = date(1800, 1, 1)


def changed(
    row: models.Model, changes: dict[str, Any]
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Set what differs, and return the differing fields before and after."""
    before: dict[str, Any] = {}
    after: dict[str, Any] = {}
    for name, value in changes.items():
        column = row._meta.get_field(name).attname  # type: ignore[union-attr]
        old = getattr(row, column)
        setattr(row, name, value)
        new = getattr(row, column)
        if old != new:
            before[column], after[column] = audit.plain(old), audit.plain(new)
    return before, after


def reason_in(reason: str) -> str:
    """Return the reason as a tree's records keep it, in one line.

    Raises:
        Refused (reason_missing): nothing is said.
    """
    return require_reason(" ".join(reason.split()), most=300)


def past_day(day: date, *, today: date, field: str) -> date:
    """Return a day that has come and is not absurdly long ago; refuse any other."""
    if day > today:
        raise Refused(
            _("%(day)s is in the future. Enter the day it happened.")
            % {"day": day.isoformat()},
            code="bad_date",
            field=field,
        )
    if day < EARLIEST:
        raise Refused(
            _("%(day)s is very long ago. Check the year.") % {"day": day.isoformat()},
            code="bad_date",
            field=field,
        )
    return day
