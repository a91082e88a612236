"""An orchard for phones to report from: `python -m tests.faults.seed PEOPLE TREES`.

The last of the people leads, and hands out a round of all trees to the first. Prints
who and what is there, as JSON.
"""

from __future__ import annotations

import json
import sys
from zoneinfo import ZoneInfo

import django

django.setup()

from django.conf import settings  # noqa: E402
from django.contrib.auth import (  # noqa: E402
    BACKEND_SESSION_KEY,
    HASH_SESSION_KEY,
    SESSION_KEY,
)
from django.contrib.auth.hashers import make_password  # noqa: E402
from django.contrib.sessions.backends.db import SessionStore  # noqa: E402
from django.db import transaction  # noqa: E402
from django.utils import timezone  # noqa: E402

from orchard.records.models import Membership, User  # noqa: E402
from orchard.services import rounds  # noqa: E402
from tests.conftest import NOW, PASSWORD, make_orchard, make_tree  # noqa: E402


def session_of(user: User) -> str:
    """Sign somebody in without the form."""
    session = SessionStore()
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.create()
    return session.session_key


def seed(people: int, trees: int) -> dict:
    password = make_password(PASSWORD)
    with transaction.atomic():
        orchard = make_orchard()
        walkers = User.objects.bulk_create(
            User(email=f"walker{n}@example.org", name=f"Walker {n}", password=password)
            for n in range(1, people + 1)
        )
        Membership.objects.bulk_create(
            Membership(user=user, orchard=orchard, role="volunteer", joined_at=NOW)
            for user in walkers
        )
        codes = [f"A-{n}" for n in range(1, trees + 1)]
        rows = [make_tree(orchard, code) for code in codes]
    now = timezone.now()
    lead = walkers[-1]
    Membership.objects.filter(user=lead).update(role="lead")
    today = now.astimezone(ZoneInfo(orchard.time_zone)).date()
    walk = rounds.make_round(
        orchard,
        by=lead,
        now=now,
        today=today,
        name="Morning round",
        walk_on=today,
        trees=rows,
        to=walkers[0],
    )
    return {
        "round": walk.pk,
        "orchard": orchard.slug,
        "password": PASSWORD,
        "people": [
            {
                "id": user.pk,
                "name": user.name,
                "email": user.email,
                "session": session_of(user),
            }
            for user in walkers
        ],
        "trees": codes,
    }


if __name__ == "__main__":
    print(json.dumps(seed(int(sys.argv[1]), int(sys.argv[2]))))
