"""The demonstration's orchard and a round of sixty: `python -m tests.faults.sixty`.

Two and a half years of looks, tasks, photos and weather, so that pages weigh what they
weigh where the book is in use. Prints who walks which round, as JSON.
"""

from __future__ import annotations

import json
from zoneinfo import ZoneInfo

import django

django.setup()

from django.utils import timezone  # noqa: E402

from orchard import demonstration  # noqa: E402
from orchard.records.models import Membership, Tree  # noqa: E402
from orchard.services import rounds  # noqa: E402
from tests.conftest import make_tree  # noqa: E402

TREES = 60


def seed() -> dict:
    now = timezone.now()
    demonstration.build(now=now, seed=11, small=False, say=lambda line: None)
    people = {one.email: one.password for one in demonstration.sign_ins()}
    members = Membership.objects.standing().filter(user__email__in=people)
    walker = members.filter(role="volunteer").order_by("pk").first()
    lead = members.filter(orchard=walker.orchard, role="lead").order_by("pk").first()
    orchard = walker.orchard
    today = now.astimezone(ZoneInfo(orchard.time_zone)).date()
    trees = list(Tree.objects.filter(orchard=orchard, state="growing").order_by("pk"))
    while len(trees) < TREES:
        code = f"{trees[-1].code.split('-')[0]}-{900 + len(trees)}"
        trees.append(make_tree(orchard, code, kind=trees[-1].kind))
    walk = rounds.make_round(
        orchard,
        by=lead.user,
        now=now,
        today=today,
        name="All sixty",
        walk_on=today,
        trees=trees[:TREES],
        to=walker.user,
    )
    return {
        "orchard": orchard.slug,
        "round": walk.pk,
        "email": walker.user.email,
        "password": people[walker.user.email],
        "trees": [tree.code for tree in trees[:TREES]],
    }


if __name__ == "__main__":
    print(json.dumps(seed()))
