"""The book with one more page: the least that keeping a look at a tree can cost.

It stands behind the same middleware and the same door, reads the same entry, and in one
transaction finds the tree and inserts the look as one row. No verdict, no work that
follows, no ledger, no receipt, no guard against a second sending: what the inbox does
more than this is held against it.
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

from orchard.records.models import (
    Inspection,
    Tree,  # noqa: E402
)
from orchard.science import guide  # noqa: E402
from orchard.services import permissions  # noqa: E402
from orchard.services.permissions import Deed  # noqa: E402
from orchard.web.pages.inbox import entries  # noqa: E402


@require_POST
def bare(request):
    if not request.user.is_authenticated:
        return HttpResponse(status=401)
    now = timezone.now()
    entry = entries.read(request.POST["entry"], None)
    member = permissions.member_for(request.user, entry.orchard)
    permissions.require(member, Deed.INSPECT)
    with transaction.atomic():
        tree = Tree.objects.in_orchard(member.orchard).get(code__iexact=entry.tree)
        look = Inspection.objects.create(
            key=uuid.uuid4(),
            orchard=member.orchard,
            tree=tree,
            by=request.user,
            seen_on=entry.made_at.date(),
            seen_at=entry.made_at,
            made_at=entry.made_at,
            received_at=now,
            all_well=True,
        )
    return JsonResponse({"answer": "kept", "key": str(look.key)})


urlpatterns = [path("bare/", bare), path("", include("orchard.web.urls"))]
guide.load()
