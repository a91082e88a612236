"""The request as our views know it."""

from __future__ import annotations

from datetime import date, datetime

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from orchard.records.models import Membership, Orchard, User


class OrchardRequest(HttpRequest):
    """A request that has come through the door of an orchard."""

    user: User  # type: ignore[assignment]
    htmx: HtmxDetails
    orchard: Orchard
    member: Membership
    now: datetime
    today: date
