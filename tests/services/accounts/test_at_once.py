from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from orchard.records.models import Membership, SignInTry, User
from orchard.services import accounts
from orchard.services.accounts import rate_limit
from orchard.services.errors import Refused
from tests.conftest import NOW, make_orchard, make_person

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(deeds):
    """Do all deeds at the same moment and return what each came to."""
    barrier = Barrier(len(deeds))

    def run(deed):
        try:
            barrier.wait()
            return deed()
        except Refused as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(len(deeds)) as pool:
        return list(pool.map(run, deeds))


def test_guessing_from_many_places_at_once_gains_no_further_tries():
    make_person("Vera", make_orchard(), "volunteer")

    def guess():
        accounts.sign_in("vera@example.org", "wrong", address=None, now=NOW)

    outcomes = at_once([guess] * 16)
    checked = [outcome for outcome in outcomes if (outcome.code == "wrong_sign_in")]
    waiting = [outcome for outcome in outcomes if (outcome.code == "too_often")]
    assert len(checked) + len(waiting) == 16
    assert len(checked) <= rate_limit.MOST_PER_PERSON
    assert SignInTry.objects.count() == len(checked)


def test_two_coordinators_cannot_step_down_at_the_same_moment():
    orchard = make_orchard()
    pair = [
        Membership.objects.get(user=make_person(name, orchard, "coordinator"))
        for name in ("Cora", "Pia")
    ]
    outcomes = at_once(
        [
            lambda member=member: accounts.leave(member, by=member.user, now=NOW)
            for member in pair
        ]
    )
    assert len([one for one in outcomes if isinstance(one, Refused)]) == 1
    assert Membership.objects.standing().count() == 1


def test_an_invitation_opened_twice_at_the_same_moment_makes_one_member():
    orchard = make_orchard()
    cora = make_person("Cora", orchard, "coordinator")
    invited = accounts.invite(
        orchard, email="nia@example.org", role="lead", by=cora, now=NOW
    )

    def accept():
        return accounts.accept_invitation(
            invited.invitation, now=NOW, name="Nia", password="seven-buckets-of-mulch"
        )

    outcomes = at_once([accept, accept])
    assert len([one for one in outcomes if isinstance(one, Membership)]) == 1
    assert len([one for one in outcomes if isinstance(one, Refused)]) == 1
    assert User.objects.filter(email="nia@example.org").count() == 1
