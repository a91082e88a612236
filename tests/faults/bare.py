"""The book with one more page: the least that keeping an entry at all can cost.

It stands behind the same middleware and the same door, reads the same entry and inserts
one row in one transaction: no tree, no verdict, no work that follows, no ledger. What
the inbox does more than that is held against it.
"""

from __future__ import annotations

import uuid

from django.db import transaction
from django.http import HttpResponse, JsonResponse
from django.urls import include, path
from django.utils import timezone
from django.views.decorators.http import require_POST

from orchard.wsgi import application

__all__ = ["application"]

from orchard.records.models import Receipt  # noqa: E402
from orchard.science import guide  # noqa: E402
from orchard.services import access  # noqa: E402
from orchard.services.access import Deed  # noqa: E402
from orchard.web.forms import inbox as forms  # noqa: E402


@require_POST
def bare(request):
    if not request.user.is_authenticated:
        return HttpResponse(status=401)
    now = timezone.now()
    entry = forms.read(request.POST["entry"], None)
    member = access.member_for(request.user, entry.orchard)
    access.require(member, Deed.INSPECT)
    with transaction.atomic():
        receipt = Receipt.objects.create(
            key=uuid.uuid4(),
            body_hash=entry.body_hash,
            orchard=member.orchard,
            by=request.user,
            kind=entry.kind,
            subject_id=0,
            made_at=entry.made_at,
            received_at=now,
        )
    return JsonResponse({"answer": "kept", "key": str(receipt.key)})


urlpatterns = [path("bare/", bare), path("", include("orchard.web.urls"))]
guide.load()
