"""The request as our views know it."""

from __future__ import annotations

from datetime import date, datetime

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from orchard.records.models import Membership, Orchard, User


class SignedInRequest(HttpRequest):
    """A request of somebody who is signed in."""

    user: User
    htmx: HtmxDetails


class OrchardRequest(SignedInRequest):
    """A request that has come through the door of an orchard."""

    orchard: Orchard
    member: Membership
    now: datetime
    today: date
