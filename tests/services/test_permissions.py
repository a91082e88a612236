"""Whose record it is, and what is found by what an address names it by."""

from __future__ import annotations

from datetime import date, timedelta
from inspect import isfunction, signature

import pytest

from orchard.services import inspections, observations, permissions, treatments
from orchard.services.errors import MayNot
from orchard.services.imports import weather_files
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused
from tests.services.treatments.helpers import add, allow, use

pytestmark = pytest.mark.django_db

AGO = NOW - timedelta(hours=3)
ANOTHERS = "^Only the person who recorded it, a crew lead or the coordinator can"


def noted(orchard, tree, by):
    """Return something of each kind by a person, with how it is taken back."""
    look = inspections.record(tree, by=by, now=NOW, seen_at=NOW, condition=3)
    return {
        "event": (
            observations.withdraw_event,
            observations.note_event(
                orchard,
                what="frost_night",
                happened_on=date(2026, 1, 9),
                by=by,
                now=NOW,
            ),
        ),
        "stage": (
            observations.withdraw_stage,
            observations.note_stage(
                orchard, tree=tree, bbch=60, seen_on=TODAY, by=by, now=NOW
            ),
        ),
        "reading": (
            weather_files.withdraw_reading,
            weather_files.note_reading(orchard, by=by, now=NOW, at=NOW, celsius=1.0),
        ),
        "look": (inspections.withdraw, look.inspection),
    }


@pytest.mark.parametrize("what", ["event", "stage", "reading", "look"])
def test_anothers_record_is_refused_in_the_same_words_everywhere(
    orchard, tree, vera, eddy, lee, what
):
    withdraw, row = noted(orchard, tree, vera)[what]
    with refused("not_yours", match=ANOTHERS) as caught:
        withdraw(row, by=eddy, now=NOW, reason="No")
    assert isinstance(caught.value, MayNot)
    assert withdraw(row, by=lee, now=NOW, reason="Yes").withdrawn_by == lee


def test_every_lookup_takes_the_member_first():
    lookups = {
        name: next(iter(signature(lookup).parameters))
        for name, lookup in vars(permissions).items()
        if name.endswith("_for") and isfunction(lookup)
    }
    # The first of all finds the member itself.
    assert lookups.pop("member_for") == "user"
    assert set(lookups.values()) == {"member"}


def test_a_treated_tree_is_found_by_its_code_however_it_is_spelled(
    orchard, tree, lee, otto
):
    garden = allow(orchard)
    brought = use(add(garden, lee, NOW), tree, make_tree(garden, "A-2"), at=AGO)
    treated = treatments.record(garden, brought, by=lee, now=NOW, today=TODAY).treatment
    member = permissions.member_for(lee, "alderbrook")
    for code in ("A-1", "a-1", "Ａ－１", "А–1"):
        reached = permissions.reached_for(member, treated.pk, code)
        assert (reached.treatment, reached.tree) == (treated, tree)
    make_tree(garden, "A-3")
    for code in ("A-3", "Z-1"):
        with refused("not_there"):
            permissions.reached_for(member, treated.pk, code)
    stranger = permissions.member_for(otto, "southbank")
    with refused("not_there"):
        permissions.reached_for(stranger, treated.pk, "A-1")


def test_a_dry_check_is_found_by_its_treatment_and_the_member(orchard, tree, lee, otto):
    garden = allow(orchard)
    product = add(garden, lee, NOW, entry_rule="until_dry", entry_hours=None)
    treated, other = (
        treatments.record(
            garden, use(product, tree, at=at), by=lee, now=NOW, today=TODAY
        ).treatment
        for at in (AGO, AGO - timedelta(days=1))
    )
    check = treatments.confirm_dry(
        treated, dry_at=NOW, qualified="L 7", by=lee, now=NOW
    )
    member = permissions.member_for(lee, "alderbrook")
    assert permissions.dry_check_for(member, treated.pk, check.pk) == check
    with refused("not_there"):
        permissions.dry_check_for(member, other.pk, check.pk)
    with refused("not_there"):
        permissions.dry_check_for(
            permissions.member_for(otto, "southbank"), treated.pk, check.pk
        )


def test_every_deed_is_some_roles_to_do():
    assert set(permissions.MAY) == set(permissions.Deed)
