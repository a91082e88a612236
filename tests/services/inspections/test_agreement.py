"""Two people at one tree in the same hour: both kept, and asked about when far apart.

Twofold within an hour is common practice, no source.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.records.models import Inspection, SecondLook
from orchard.services import inspections
from orchard.services.inspections import SeenSign, agreement
from tests.conftest import NOW


def saw(tree, by, sign="leafminer", *, minutes=0, **answers):
    at = NOW - timedelta(minutes=minutes)
    logged = inspections.record(
        tree, by=by, now=NOW, seen_at=at, findings=[SeenSign(sign, answers)]
    )
    return logged.findings[0]


@pytest.mark.parametrize(
    ("first", "second", "far"),
    [(10, 20, False), (10, 21, True), (21, 10, True), (20, 10, False), (0, 1, True)],
)
def test_both_are_kept_and_more_than_twofold_is_asked_about(
    tree, vera, lee, first, second, far
):
    saw(tree, vera, minutes=40, pct=first)
    later = saw(tree, lee, pct=second)
    assert Inspection.objects.current().count() == 2
    assert SecondLook.objects.filter(finding=later).exists() is far
    assert SecondLook.objects.count() == far


def test_the_reason_names_both_and_their_numbers(tree, vera, lee):
    saw(tree, vera, pct=5)
    saw(tree, lee, pct=40)
    reason = SecondLook.objects.get().reason
    assert "40 % by Lee" in reason
    assert "5 % by Vera" in reason


def test_the_one_that_comes_in_late_is_held_against_the_earlier_one(tree, vera, lee):
    saw(tree, vera, pct=40)
    assert saw(tree, lee, minutes=59, pct=5).second_look.reason


@pytest.mark.parametrize("minutes", [61, 600])
def test_what_lies_further_apart_may_have_changed(tree, vera, lee, minutes):
    saw(tree, vera, minutes=minutes, pct=5)
    saw(tree, lee, pct=40)
    assert not SecondLook.objects.exists()


def test_ones_own_second_count_and_another_sign_are_no_dispute(tree, vera, lee):
    saw(tree, vera, minutes=5, pct=5)
    saw(tree, vera, pct=40)
    saw(tree, lee, "aphids", pct=80)
    assert not SecondLook.objects.exists()


def test_what_was_taken_back_is_not_held_against_anybody(tree, vera, lee):
    first = saw(tree, vera, pct=5).inspection
    inspections.withdraw(first, by=vera, now=NOW, reason="Another tree")
    saw(tree, lee, pct=40)
    assert not SecondLook.objects.exists()


def test_an_unsure_one_keeps_its_reason_too(tree, vera, lee):
    saw(tree, vera, pct=5)
    inspections.record(
        tree,
        by=lee,
        now=NOW,
        seen_at=NOW,
        findings=[SeenSign("leafminer", {"pct": 40}, sure=False)],
    )
    assert "40 % by Lee" in SecondLook.objects.get().reason


def test_a_private_find_does_not_show_through_the_reason(tree, vera, lee):
    private = saw(tree, vera, "psyllid_nymph", count=2)
    assert private.private
    mine = saw(tree, lee, "psyllid_nymph", count=9)
    mine.private = False
    assert "Vera" not in agreement.differs(mine)
    assert "9" not in agreement.differs(mine)
    mine.private = True
    assert "2" in agreement.differs(mine)
