"""Lots called back: one step forward, one step back.

Regulation (EC) 178/2002, article 18: whoever hands food on can say whom it came from
and whom it went to; article 19: what is not safe is called back.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.records.models import RecallCall, Task
from orchard.services import harvests
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused
from tests.services.harvests.helpers import AGO, give, pick, record
from tests.services.harvests.test_picks import spray
from tests.services.treatments.helpers import allow

pytestmark = pytest.mark.django_db
WHEN = {"now": NOW, "today": TODAY}


@pytest.fixture
def garden(orchard):
    return allow(orchard)


def call_back(garden, lee, **start):
    return harvests.open_recall(garden, because="Wrong label", by=lee, **start, **WHEN)


def test_recall_by_one_spray_finds_every_later_receiver_with_kg(
    garden, tree, lee, vera
):
    other = make_tree(garden, "A-2")
    before = record(garden, tree, by=vera, at=AGO - timedelta(days=9)).harvest
    give(before, vera, kg=1, receiver="Too early")
    wrong = spray(garden, tree, by=lee, at=AGO - timedelta(days=8), fruit_days=0)
    later = record(garden, tree, other, by=vera, at=AGO - timedelta(days=2)).harvest
    give(later, vera, kg=1.5)
    give(later, vera, kg=0.5, use="tasting", receiver="", contact="")
    give(later, vera, kg=1, use="compost", receiver="", contact="")
    apart = record(garden, other, by=vera).harvest
    give(apart, vera, kg=1, receiver="Another tree")

    recall = call_back(garden, lee, treatment=wrong.treatment)
    picture = harvests.recall_picture(recall)
    assert picture.lots == (later,)
    assert [(line.share.receiver, line.share.kg) for line in picture.calls] == [
        ("Food bank", 1.5),
        ("", 0.5),
    ]
    assert [share.use for share in picture.elsewhere] == ["compost"]
    assert [trace.tree.code for trace in picture.trees] == ["A-1", "A-2"]
    assert picture.trees[0].treatments == (wrong.treatment,)
    assert picture.trees[1].treatments == ()
    later.refresh_from_db()
    with refused("kept_back", match="called back"):
        give(later, vera, kg=1)
    assert "Call everybody" in Task.objects.get(kind="once").title


def test_recall_closes_when_all_have_answered(garden, tree, lee, vera):
    lot = record(garden, tree, by=vera).harvest
    school = give(lot, vera, kg=1, receiver="School")
    kitchen = give(lot, vera, kg=2, receiver="Kitchen")
    recall = call_back(garden, lee, harvest=lot)
    call = {"by": lee, "now": NOW}
    harvests.note_call(recall, school, is_answered=False, words="No one", **call)
    harvests.note_call(
        recall, school, is_answered=True, words="Eaten, all well", **call
    )
    assert recall.closed_at is None
    assert harvests.recall_picture(recall).unanswered == 1
    asked = Task.objects.get(kind="once")
    assert asked.closed_at is None
    harvests.note_call(recall, kitchen, is_answered=True, **call)
    assert (recall.closed_at, recall.closed_by) == (NOW, lee)
    asked.refresh_from_db()
    assert asked.closed_at == NOW
    assert RecallCall.objects.count() == 3
    with refused("already_closed"):
        harvests.note_call(recall, kitchen, is_answered=True, **call)


def test_treatments_after_the_pick_are_not_traced(garden, tree, lee, vera):
    first = spray(garden, tree, by=lee, at=AGO - timedelta(days=5), fruit_days=0)
    lot = record(garden, tree, by=vera, at=AGO - timedelta(days=3)).harvest
    spray(garden, tree, by=lee, at=AGO - timedelta(days=1), fruit_days=0)
    give(lot, vera, kg=1)
    [trace] = harvests.recall_picture(call_back(garden, lee, harvest=lot)).trees
    assert trace.treatments == (first.treatment,)


def test_recall_of_what_nobody_got_closes_at_once_and_keeps_the_lot(
    garden, tree, lee, vera
):
    lot = record(garden, tree, by=vera).harvest
    assert call_back(garden, lee, harvest=lot).closed_at == NOW
    lot.refresh_from_db()
    assert lot.is_blocked
    assert not Task.objects.filter(kind="once").exists()


def test_what_is_called_back_stays_so_through_a_correction(garden, tree, lee, vera):
    lot = record(garden, tree, by=vera).harvest
    share = give(lot, vera, kg=1)
    recall = call_back(garden, lee, harvest=lot)
    with refused("already_open"):
        call_back(garden, lee, harvest=lot)
    new = harvests.correct(lot, pick(tree, kg=5), by=lee, reason="Scale", **WHEN)
    assert new.harvest.is_blocked
    [line] = harvests.recall_picture(recall).calls
    assert line.share == share


def test_recall_says_why_and_needs_a_lot(garden, tree, lee, vera):
    done = spray(garden, tree, by=lee, fruit_days=0)
    with refused("no_lot"):
        call_back(garden, lee, treatment=done.treatment)
    lot = record(garden, tree, by=vera).harvest
    with refused("reason_missing"):
        harvests.open_recall(garden, because=" ", by=lee, harvest=lot, **WHEN)


def test_share_of_another_lot_is_no_part_of_a_recall(garden, tree, lee, vera):
    lot = record(garden, tree, by=vera).harvest
    give(lot, vera, kg=1)
    other = give(record(garden, tree, by=vera).harvest, vera, kg=1)
    recall = call_back(garden, lee, harvest=lot)
    with refused("not_in_recall"):
        harvests.note_call(recall, other, is_answered=True, by=lee, now=NOW)
