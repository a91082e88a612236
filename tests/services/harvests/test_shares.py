"""Where lots go: never more than was picked, never what is kept back."""

from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.records.models import HarvestShare
from orchard.services import harvests
from orchard.services.errors import MayNot
from tests.conftest import NOW, TODAY, make_person, make_tree
from tests.refusals import refused
from tests.services.harvests.helpers import (
    AGO,
    ALL_WELL,
    give,
    pick,
    record,
    suspect,
)

pytestmark = pytest.mark.django_db
WHEN = {"now": NOW, "today": TODAY}
KEPT_ON_SITE = ("compost", "destroyed", "birds")
TO_PEOPLE = ("given_away", "tasting", "show", "volunteers")


@pytest.fixture
def lot(orchard, tree, vera):
    return record(orchard, tree, by=vera, kg=4, count=20).harvest


def test_shares_never_come_to_more_than_was_picked(lot, vera):
    give(lot, vera, kg=2.5)
    give(lot, vera, use="compost", receiver="", contact="", kg=1.0)
    with refused("more_than_picked", match="left of the lot: 0.5 kg") as why:
        give(lot, vera, kg=0.6)
    assert why.value.field == "kg"
    give(lot, vera, kg=0.5)
    assert harvests.balance_of(lot).is_all_gone
    assert HarvestShare.objects.count() == 3


def test_weight_and_number_of_one_lot_are_counted_together(lot, vera):
    # Fifteen of twenty fruit are three of four kilograms.
    give(lot, vera, count=15)
    left = harvests.balance_of(lot).left
    assert (left.kg, left.count) == (1.0, 5)
    with refused("more_than_picked", match="1 kg, number: 5"):
        give(lot, vera, kg=1.1)


def test_a_lot_is_given_by_what_it_was_measured_by(orchard, tree, vera):
    counted = record(orchard, tree, by=vera, kg=None, count=20).harvest
    weighed = record(orchard, tree, by=vera).harvest
    with refused("not_measured", match="counted, not weighed"):
        give(counted, vera, kg=1)
    with refused("not_measured", match="weighed, not counted"):
        give(weighed, vera, count=3)
    with refused("not_measured", match="weight, the number"):
        give(weighed, vera)
    with refused("not_measured", match="above nothing"):
        give(weighed, vera, kg=0)


@pytest.mark.parametrize("lacking", ["receiver", "contact"])
def test_receiver_and_contact_are_kept_for_a_recall(lot, vera, lacking):
    # Regulation (EC) 178/2002, article 18: whom it was supplied to is on record.
    with refused("no_receiver", match="how to reach them") as why:
        give(lot, vera, kg=1, **{lacking: " "})
    assert why.value.field == lacking
    give(lot, vera, use="tasting", receiver="", contact="", kg=1)


@pytest.mark.parametrize("use", TO_PEOPLE)
def test_nothing_that_was_picked_under_a_hold_reaches_people(orchard, tree, vera, use):
    lot = record(orchard, tree, by=vera).harvest
    lot.is_blocked = True
    lot.save()
    with refused("kept_back", match="Nothing of this lot"):
        give(lot, vera, use=use, kg=1)
    for way in KEPT_ON_SITE:
        give(lot, vera, use=way, receiver="", contact="", kg=1)


@pytest.mark.parametrize("use", TO_PEOPLE)
def test_windfalls_never_reach_people(orchard, tree, vera, use):
    # 21 CFR 112.114: what has dropped is not to be distributed.
    lot = record(orchard, tree, by=vera, checks=ALL_WELL | {"ground"}).harvest
    with refused("kept_back", match="from the ground"):
        give(lot, vera, use=use, kg=1)
    give(lot, vera, use="compost", receiver="", contact="", kg=4)


@pytest.mark.parametrize("check", sorted(ALL_WELL))
def test_each_unanswered_question_holds_a_lot_back(orchard, tree, vera, check):
    lot = record(orchard, tree, by=vera, checks=ALL_WELL - {check}).harvest
    with refused("kept_back", match="not answered with yes"):
        give(lot, vera, kg=1)


def test_what_came_from_a_suspected_tree_is_not_moved_at_all(orchard, tree, vera):
    suspect(tree, vera, at=AGO - timedelta(days=1))
    lot = record(orchard, tree, by=vera, anyway="Not seen").harvest
    with refused("kept_back", match="nothing of it is moved"):
        give(lot, vera, use="compost", receiver="", contact="", kg=1)
    give(lot, vera, use="destroyed", receiver="", contact="", kg=4)


def test_day_of_a_share_lies_between_the_pick_and_today(lot, vera):
    with refused("wrong_day", match="future"):
        give(lot, vera, kg=1, given_on=TODAY + timedelta(days=1))
    with refused("wrong_day", match="only picked on 12 May 2026"):
        give(lot, vera, kg=1, given_on=TODAY - timedelta(days=1))


def test_share_is_corrected_and_withdrawn_and_stays_readable(lot, vera, orchard):
    row = give(lot, vera, kg=4)
    with refused("more_than_picked"):
        harvests.correct_share(row, by=vera, reason="Scale", kg=4.1, **WHEN)
    new = harvests.correct_share(row, by=vera, reason="Scale", kg=3.0, **WHEN)
    assert harvests.shares_of(lot) == [new]
    paul = make_person("Paul", orchard, "volunteer")
    with pytest.raises(MayNot):
        harvests.withdraw_share(new, by=paul, now=NOW, reason="No")
    harvests.withdraw_share(new, by=vera, now=NOW, reason="It came back")
    assert harvests.shares_of(lot) == []
    assert HarvestShare.objects.count() == 2


def test_shares_stay_with_a_lot_that_is_corrected(lot, tree, vera):
    give(lot, vera, kg=3)
    with refused("more_than_picked", match="Correct the shares first"):
        harvests.correct(lot, pick(tree, kg=2), by=vera, reason="Scale", **WHEN)
    new = harvests.correct(lot, pick(tree, kg=6), by=vera, reason="Scale", **WHEN)
    assert harvests.balance_of(new.harvest).left.kg == 3.0
    with refused("not_current"):
        give(lot, vera, kg=1)
    with refused("given_away"):
        harvests.withdraw(new.harvest, by=vera, reason="No", **WHEN)


def test_trees_without_a_whole_fruit_do_not_hide_the_number(orchard, tree, vera):
    others = [make_tree(orchard, f"A-{number}") for number in (2, 3)]
    lot = record(orchard, tree, *others, by=vera, kg=1.2, count=2).harvest
    assert harvests.balance_of(lot).picked.count == 2
