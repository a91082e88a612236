"""Picks on record: what is refused, what a hold forbids, what follows."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.records.models import (
    CarePlan,
    Closure,
    Happening,
    Harvest,
    HarvestedTree,
    HoldBreach,
    Orchard,
    Task,
    Tree,
)
from orchard.science.words import Picked
from orchard.services import (
    care_plan,
    harvests,
    inbox,
    observations,
    ripeness,
    treatments,
)
from orchard.services.errors import MayNot
from orchard.services.harvests import WrittenPick, shared_out
from orchard.services.permissions import member_for
from tests.conftest import NOW, TODAY, make_person, make_tree
from tests.refusals import refused
from tests.services.harvests.helpers import AGO, ALL_WELL, pick, record, suspect
from tests.services.treatments.helpers import add, allow, use

pytestmark = pytest.mark.django_db
WHEN = {"now": NOW, "today": TODAY}


@pytest.fixture
def garden(orchard):
    return allow(orchard)


def spray(garden, *trees, by, at=AGO - timedelta(hours=6), now=NOW, **label):
    product = add(garden, by, now, name=f"Soap {at}", entry_hours=4.0, **label)
    brought = use(product, *trees, at=at)
    return treatments.record(garden, brought, by=by, now=now, today=now.date())


def test_lot_is_numbered_by_place_day_block_and_serial(orchard, tree, vera):
    other = make_tree(orchard, "C-1")
    first = record(orchard, tree, by=vera).harvest
    second = record(orchard, tree, by=vera).harvest
    both = record(orchard, tree, other, by=vera).harvest
    assert first.lot == "ALDERBROOK-20260512-A-1"
    assert second.lot == "ALDERBROOK-20260512-A-2"
    assert both.lot == "ALDERBROOK-20260512-A+C-1"


def test_number_of_a_withdrawn_lot_is_not_given_again(orchard, tree, vera):
    first = record(orchard, tree, by=vera).harvest
    harvests.withdraw(first, by=vera, reason="Not picked", **WHEN)
    assert record(orchard, tree, by=vera).harvest.lot.endswith("-2")


def test_crate_of_several_trees_is_shared_out(orchard, tree, vera):
    trees = [tree, make_tree(orchard, "A-2"), make_tree(orchard, "A-3")]
    found = record(orchard, *trees, by=vera, kg=7.5, count=44)
    rows = HarvestedTree.objects.filter(harvest=found.harvest).order_by("id")
    assert [(row.kg, row.count) for row in rows] == [(2.5, 15), (2.5, 15), (2.5, 14)]
    assert all(row.is_shared for row in rows)


def test_fewer_fruit_than_trees_are_not_shared_out(orchard, tree):
    with refused("too_few", match="1 from 2 trees"):
        shared_out([tree, make_tree(orchard, "A-2")], kg=None, count=1)


@pytest.mark.parametrize(
    ("picked", "code"),
    [
        ({"kg": 0}, "out_of_range"),
        ({"kg": -2}, "out_of_range"),
        ({"kg": 1001}, "out_of_range"),
        ({"kg": None, "count": 0}, "out_of_range"),
        ({"kg": None}, "nothing_picked"),
        # 8 kg of 2 fruit: 4 kg each is a citron; 20 kg of 2 is none.
        ({"kg": 20, "count": 2}, "out_of_range"),
        ({"kg": 0.4, "count": 900}, "out_of_range"),
        ({"at": NOW + timedelta(minutes=1)}, "wrong_day"),
    ],
)
def test_what_cannot_be_is_refused(orchard, tree, vera, picked, code):
    with refused(code):
        record(orchard, tree, by=vera, **picked)
    assert not Harvest.objects.exists()


def test_large_citron_and_small_berry_are_fruit(orchard, tree, vera):
    record(orchard, tree, by=vera, kg=8, count=2)
    record(orchard, tree, by=vera, kg=0.5, count=400)


def test_no_trees_and_trees_that_were_gone_are_refused(orchard, tree, vera):
    with refused("no_tree"):
        record(orchard, by=vera)
    tree.removed_on, tree.removal_reason = date(2026, 5, 1), "Felled"
    tree.state = "removed"
    tree.save()
    with refused("wrong_day", match="removed on 1 May 2026"):
        record(orchard, tree, by=vera)


def test_leaves_of_a_cultivar_whose_leaves_nobody_eats_are_kept(orchard, tree, vera):
    found = record(orchard, tree, by=vera, part="leaf", kg=None, count=30)
    assert found.harvest.part == "leaf"


# -- Under a hold ------------------------------------------------------------------


def test_pick_under_a_harvest_hold_is_refused_with_its_end(garden, tree, lee, vera):
    spray(garden, tree, by=lee, fruit_days=3)
    # Sprayed Tue 12 May 02:00 UTC, 03:00 in Lisbon; three days at the same time.
    with refused("picked_under_hold", match="A-1: .*Fri 15 May, 03:00") as why:
        record(garden, tree, by=vera)
    assert why.value.field == "trees"
    assert not Harvest.objects.exists()


def test_picked_all_the_same_is_kept_and_never_given_away(garden, tree, lee, vera):
    spray(garden, tree, by=lee, fruit_days=3)
    found = record(garden, tree, by=vera, anyway="The tape had blown off")
    lot = found.harvest
    assert lot.is_blocked
    assert [code for code, _text in lot.breaches] == ["picked_under_hold"]
    assert lot.holds[0][0] == "A-1"
    assert "Fri 15 May, 03:00" in lot.holds[0][1]
    [breach] = HoldBreach.objects.all()
    assert (breach.tree, breach.harvest, breach.by) == (tree, lot, vera)
    assert breach.words == "The tape had blown off"
    task = Task.objects.get(kind="once")
    assert lot.lot in task.title
    assert "tape had blown off" in task.request.steps
    assert task.due_on == TODAY


def test_fruit_figure_does_not_open_leaves(garden, tree, lee, vera):
    # A fruit figure never opens leaves: the label names none for them.
    spray(garden, tree, by=lee, fruit_days=0, leaf_days=None, flower_days=30)
    record(garden, tree, by=vera)
    with refused("picked_under_hold", match="leaves: the end .* not known"):
        record(garden, tree, by=vera, part="leaf", kg=0.1)
    with refused("picked_under_hold", match="flowers before Thu 11 Jun"):
        record(garden, tree, by=vera, part="flower", kg=0.1)


def test_nothing_is_picked_while_nobody_may_enter(garden, tree, lee, vera):
    spray(garden, tree, by=lee, at=AGO - timedelta(hours=1), fruit_days=0)
    with refused("picked_under_hold", match="No entry before"):
        record(garden, tree, by=vera, part="leaf", kg=0.1)


def test_what_was_picked_before_the_spraying_is_free(garden, tree, lee, vera):
    spray(garden, tree, by=lee, at=NOW - timedelta(minutes=10), fruit_days=30)
    lot = record(garden, tree, by=vera, at=NOW - timedelta(hours=2)).harvest
    assert not lot.is_blocked


def test_pick_opens_at_the_very_moment(garden, tree, lee, vera):
    end = AGO - timedelta(days=3)
    spray(garden, tree, by=lee, at=end, fruit_days=3)
    with refused("picked_under_hold"):
        record(garden, tree, by=vera, at=AGO - timedelta(seconds=1))
    assert not record(garden, tree, by=vera, at=AGO).harvest.is_blocked


def test_nothing_is_taken_from_a_tree_to_be_left_alone(orchard, tree, vera):
    suspect(tree, vera, at=NOW - timedelta(days=2))
    with refused("picked_under_hold", match="leave this tree alone"):
        record(orchard, tree, by=vera, part="leaf", kg=0.1)
    lot = record(orchard, tree, by=vera, anyway="I had not seen the ribbon").harvest
    assert [code for code, _text in lot.breaches] == ["open_case"]
    # What was picked before the suspicion came from a tree that was free.
    before = record(orchard, tree, by=vera, at=NOW - timedelta(days=3)).harvest
    assert not before.is_blocked


def test_after_a_severe_frost_leaves_are_free_and_fruit_is_not(orchard, tree, vera):
    observations.note_event(
        orchard, what="severe_frost", happened_on=TODAY, by=vera, now=NOW
    )
    with refused("picked_under_hold", match="Severe frost"):
        record(orchard, tree, by=vera)
    assert not record(orchard, tree, by=vera, part="leaf", kg=0.1).harvest.is_blocked


def test_treatment_entered_late_keeps_back_what_was_picked_meanwhile(
    garden, tree, lee, vera
):
    lot = record(garden, tree, by=vera).harvest
    other = record(garden, make_tree(garden, "A-2"), by=vera).harvest
    assert not lot.is_blocked
    spray(garden, tree, by=lee, fruit_days=14)
    lot.refresh_from_db()
    other.refresh_from_db()
    assert lot.is_blocked
    assert not other.is_blocked
    assert HoldBreach.objects.get().harvest == lot
    assert lot.lot in Task.objects.get(kind="once").title


def test_longer_wait_read_from_the_label_later_keeps_lots_back(garden, tree, lee, vera):
    spray(garden, tree, by=lee, fruit_days=0)
    lot = record(garden, tree, by=vera).harvest
    product = garden.products.get()
    treatments.correct_product(product, by=lee, reason="Misread", fruit_days=14, **WHEN)
    lot.refresh_from_db()
    assert lot.is_blocked
    assert "26 May" in lot.holds[0][1]


# -- Food safety -------------------------------------------------------------------


def test_unanswered_questions_hold_up_giving_away_not_the_record(orchard, tree, vera):
    lot = record(orchard, tree, by=vera, checks=ALL_WELL - {"bins"}).harvest
    assert not lot.is_blocked
    [why] = harvests.why_kept_back(lot)
    assert "Bins were clean" in why
    assert not harvests.why_kept_back(record(orchard, tree, by=vera).harvest)


def test_only_the_coordinator_allows_what_animals_touched(orchard, tree, vera, cora):
    checks = ALL_WELL - {"animals"} | {"allowed"}
    with pytest.raises(MayNot, match="Only the coordinator"):
        record(orchard, tree, by=vera, checks=checks)
    assert not harvests.why_kept_back(
        record(orchard, tree, by=cora, checks=checks).harvest
    )


def test_windfalls_are_kept_back_by_the_book(orchard, tree, vera):
    # 21 CFR 112.114: covered produce that has dropped to the ground is not distributed.
    lot = record(orchard, tree, by=vera, checks=ALL_WELL | {"ground"}).harvest
    assert lot.is_blocked
    assert "never given away" in harvests.why_kept_back(lot)[0]


# -- What follows ------------------------------------------------------------------


def ready_tree(orchard, tree, vera):
    """Find the fruit of a tree ready, and open its picking."""
    long_ago = NOW - timedelta(days=900)
    Orchard.objects.update(founded_at=long_ago)
    Tree.objects.update(entered_at=long_ago)
    orchard.refresh_from_db()
    CarePlan.objects.create(
        orchard=orchard, job="harvest", active=True, set_at=long_ago
    )
    observations.note_stage(
        orchard, bbch=89, seen_on=TODAY - timedelta(days=2), by=vera, now=NOW, tree=tree
    )
    care_plan.open_next(orchard, **WHEN)
    return Task.objects.open().filter(tree=tree, key="harvest")


def test_tree_picked_clean_closes_its_picking_and_is_not_ready(orchard, tree, vera):
    assert ready_tree(orchard, tree, vera).exists()
    found = record(orchard, tree, by=vera, clean=True)
    [closure] = found.closed
    assert closure.task.key == "harvest"
    assert closure.evidence == f"4 kg ({found.harvest.lot})"
    assert not ready_tree_open(tree)
    event = Happening.objects.current().get(what="harvested")
    assert (event.tree, event.happened_on) == (tree, TODAY)
    [row] = ripeness.ripeness_of_kinds(orchard, today=TODAY)
    assert not row.is_ready


def ready_tree_open(tree):
    return Task.objects.open().filter(tree=tree, key="harvest").exists()


def test_some_fruit_picked_leaves_the_rest_to_pick(orchard, tree, vera):
    assert ready_tree(orchard, tree, vera).exists()
    record(orchard, tree, by=vera)
    assert ready_tree_open(tree)
    assert not Happening.objects.filter(what="harvested").exists()


def test_correction_keeps_the_number_and_takes_back_the_clean_pick(orchard, tree, vera):
    lot = record(orchard, tree, by=vera, clean=True).harvest
    new = harvests.correct(
        lot, pick(tree, kg=5), by=vera, reason="Weighed again", **WHEN
    ).harvest
    assert new.lot == lot.lot
    assert Harvest.objects.current().get() == new
    assert not Happening.objects.current().filter(what="harvested").exists()


def test_withdrawn_pick_opens_its_work_again(orchard, tree, vera):
    assert ready_tree(orchard, tree, vera).exists()
    lot = record(orchard, tree, by=vera, clean=True).harvest
    harvests.withdraw(lot, by=vera, reason="The next tree", **WHEN)
    assert ready_tree_open(tree)
    assert Closure.objects.get().undone_at == NOW
    assert not Happening.objects.current().exists()


def test_correction_under_a_hold_asks_how_it_came_about(garden, tree, lee, vera):
    other = make_tree(garden, "A-2")
    spray(garden, other, by=lee, fruit_days=14)
    lot = record(garden, tree, by=vera).harvest
    moved = pick(other)
    with refused("picked_under_hold", match="A-2"):
        harvests.correct(lot, moved, by=vera, reason="It was A-2", **WHEN)
    new = harvests.correct(
        lot, moved, by=vera, reason="It was A-2", anyway="Wrong row", **WHEN
    ).harvest
    assert new.is_blocked
    # Once on record as such, it is corrected without saying so again.
    again = harvests.correct(new, pick(other, kg=5), by=vera, reason="Scale", **WHEN)
    assert again.harvest.is_blocked
    assert HoldBreach.objects.count() == 1


def test_others_picks_are_corrected_by_those_who_lead(orchard, tree, vera, lee):
    lot = record(orchard, tree, by=vera).harvest
    paul = make_person("Paul", orchard, "volunteer")
    with pytest.raises(MayNot, match="Only the person who recorded it"):
        harvests.correct(lot, pick(tree), by=paul, reason="No", **WHEN)
    harvests.correct(lot, pick(tree), by=lee, reason="Scale", **WHEN)


def written(*codes, **more):
    return WrittenPick(Picked.FRUIT, AGO, codes, **{"kg": 4.0, "count": 5, **more})


def test_what_is_written_down_names_its_trees_and_is_shared_out(orchard, tree, vera):
    other, far = make_tree(orchard, "A-2"), make_tree(orchard, "B-1")
    member = member_for(vera, orchard.slug)
    named = harvests.pick_named(member, written("a-1", "A", "b", note="Sweet"))
    assert [each.tree for each in named.trees] == [tree, other, far]
    assert (named.kg, named.count, named.note) == (4.0, 5, "Sweet")
    with refused("unknown_tree", match="no trees or blocks Z-1, Y"):
        harvests.pick_named(member, written("A-1", "Z-1", "Y"))
    with refused("too_few"):
        harvests.pick_named(member, written("A-1", "A-2", kg=None, count=1))


def test_what_each_tree_gave_stays_where_trees_and_figures_are_as_before(
    orchard, tree, vera
):
    other = make_tree(orchard, "A-2")
    lot = record(orchard, tree, other, by=vera, kg=4, count=5).harvest
    lot.harvested.filter(tree=tree).update(kg=3, count=4)
    lot.harvested.filter(tree=other).update(kg=1, count=1)
    member = member_for(vera, orchard.slug)

    def gave(*codes, is_as_before):
        brought = written(*codes, is_as_before=is_as_before)
        named = harvests.pick_named(member, brought, corrects=lot)
        return [(each.tree.code, each.kg, each.count) for each in named.trees]

    as_it_was = [("A-1", 3, 4), ("A-2", 1, 1)]
    assert gave("A-2", "A-1", is_as_before=True) == as_it_was
    assert gave("A-1", "A-2", is_as_before=False) == [("A-1", 2, 3), ("A-2", 2, 2)]
    assert gave("A-1", is_as_before=True) == [("A-1", 4, 5)]


def test_a_pick_comes_in_as_it_was_written_down(orchard, tree, vera):
    member = member_for(vera, orchard.slug)
    effect = inbox.record_harvest(member, written("A-1"), by=vera, **WHEN)
    lot = Harvest.objects.get(pk=effect.subject_id)
    assert [(row.tree, row.kg) for row in lot.harvested.all()] == [(tree, 4.0)]
    with refused("unknown_tree"):
        inbox.record_harvest(member, written("Z-1"), by=vera, **WHEN)
