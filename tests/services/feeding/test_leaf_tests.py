"""What a laboratory found in leaves: entered, refused, and held against each set."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.records.models import Change, Kind, Task
from orchard.services import feeding, permissions
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db


def record(tree, by, *, place=None, **changes):
    member = permissions.member_for(by, tree.orchard.slug)
    details = {
        "taken_on": TODAY, "leaf_months": 5.0, "contents": {"N": 2.45, "K": 0.9},
        "place": tree.code if place is None else place,
    } | changes  # fmt: skip
    row, _closed = feeding.record_leaf_test(
        member, by=by, now=NOW, today=TODAY, **details
    )
    return row


def test_potassium_of_0_9_is_low_by_one_set_and_in_range_by_others(tree, vera):
    """Potassium 0.9 %: low in Florida, in range elsewhere, so nothing is made of it."""
    Kind.objects.update(group="Navel oranges")
    tree.kind.refresh_from_db()
    by_key = {
        each.nutrient.key: each
        for each in feeding.nutrient_readings(record(tree, vera))
    }
    assert by_key["K"].agreement == "disagree"
    sides = {each.leaf_set.key: each.side for each in by_key["K"].fitting}
    assert sides == {
        "florida": "below", "australia": "within", "israel_orange": "within",
    }  # fmt: skip
    # Calcium has one set alone; of leaves of a year and a half there is none.
    [calcium] = feeding.nutrient_readings(record(tree, vera, contents={"Ca": 3.0}))
    assert calcium.agreement == "one"
    old = record(tree, vera, contents={"Ca": 3.0}, leaf_months=18)
    assert feeding.nutrient_readings(old)[0].agreement == "none"


@pytest.mark.parametrize(
    ("changes", "code", "match"),
    [
        ({"contents": {"N": 25000.0}}, "out_of_range", "ppm.*enter 2.5 %"),
        ({"contents": {"N": 150.0}}, "out_of_range", "leaves hold 0.3 to 8"),
        ({"contents": {"Mg": 3.5}}, "out_of_range", "g/kg, enter 0.35 %"),
        ({"contents": {"Zn": 0.0025}}, "out_of_range", "%, enter 25 mg/kg"),
        ({"contents": {"N": -1.0}}, "out_of_range", "decimal point"),
        ({"contents": {}}, "nothing_found", "at least one figure"),
        ({"soil_ph": 15.0}, "out_of_range", "pH 15 can't be right"),
        ({"leaf_months": 0.0}, "out_of_range", "Enter 1 to 36"),
        ({"taken_on": TODAY + timedelta(days=1)}, "wrong_day", "future"),
        ({"place": "Z-99"}, "unknown_place", "no tree or block Z-99"),
    ],
)
def test_what_cannot_be_is_refused(tree, vera, changes, code, match):
    with refused(code, match=match):
        record(tree, vera, **changes)


def test_a_block_of_several_cultivars_asks_which(tree, orchard, vera):
    block = tree.spot.block
    assert record(tree, vera, place=block.code).kind == tree.kind
    other = Kind.objects.create(orchard=orchard, name="Own lemon", group="Lemons")
    make_tree(orchard, "A-9", kind=other)
    with refused("no_kind", match="several cultivars"):
        record(tree, vera, place=block.code)
    row = record(tree, vera, place=block.code, kind=other.pk)
    assert (row.kind, row.block, row.tree) == (other, block, None)
    # A lemon is covered by the set for all citrus alone.
    found = feeding.nutrient_readings(row)
    assert [each.leaf_set.key for each in found[0].fitting] == ["florida"]
    assert row not in feeding.leaf_tests_for(tree, at_most=9)


def test_a_correction_keeps_the_earlier_version(tree, vera):
    old = record(tree, vera)
    member = permissions.member_for(vera, tree.orchard.slug)
    new = feeding.correct_leaf_test(
        old, member, place=tree.code, contents={"N": 2.6}, by=vera, now=NOW,
        today=TODAY, reason="misread",
    )  # fmt: skip
    assert feeding.leaf_tests_of(tree.orchard).rows == (new,)
    old.refresh_from_db()
    assert old.contents["N"] == 2.45


def test_leaves_are_taken_in_their_season_in_both_halves(orchard):
    """WA: mid-February to mid-March; the north July to September (memory)."""
    north = feeding.sampling_time(orchard, today=date(2026, 10, 1))
    assert (north.first, north.last) == (date(2027, 7, 1), date(2027, 9, 30))
    assert north.how == "memory"
    orchard.latitude = -35
    south = feeding.sampling_time(orchard, today=date(2026, 3, 1))
    assert (south.first, south.last) == (date(2026, 2, 15), date(2026, 3, 15))


def test_an_orchard_chooses_its_set_with_name_and_day(orchard, cora, lee):
    chosen = feeding.choose_leaf_set(orchard, leaf_set="florida", by=cora, now=NOW)
    assert (chosen.leaf_set, chosen.leaf_set_by, chosen.leaf_set_at) == (
        "florida", cora, NOW,
    )  # fmt: skip
    line = Change.objects.get(verb="set")
    assert (line.by, line.before["leaf_set"], line.after["leaf_set"]) == (
        cora, "", "florida",
    )  # fmt: skip
    # The same once more is no change; none again keeps who said so.
    feeding.choose_leaf_set(orchard, leaf_set="florida", by=lee, now=NOW)
    assert Change.objects.filter(verb="set").count() == 1
    none = feeding.choose_leaf_set(orchard, leaf_set="", by=lee, now=NOW)
    assert (none.leaf_set, none.leaf_set_by) == ("", lee)
    with refused("unknown_set", match="no such set"):
        feeding.choose_leaf_set(orchard, leaf_set="of my own", by=cora, now=NOW)


def sampling(tree, **fields):
    """Open the task of taking leaves in the block of a tree."""
    task = make_task(tree, key="leaf_test", title="Take leaf samples", **fields)
    Task.objects.filter(pk=task.pk).update(tree=None)
    return task


def closed_by(tree, by, **changes):
    member = permissions.member_for(by, tree.orchard.slug)
    details = {
        "taken_on": TODAY, "leaf_months": 5.0, "contents": {"N": 2.45},
        "place": tree.code, "sample": "Lab 7/12", "closes_task": True,
    } | changes  # fmt: skip
    _row, closed = feeding.record_leaf_test(
        member, by=by, now=NOW, today=TODAY, **details
    )
    return closed


@pytest.mark.parametrize("place", ["A-1", "A"])
def test_an_analysis_closes_the_task_of_taking_these_leaves(orchard, tree, vera, place):
    task = sampling(tree)
    elsewhere = sampling(make_tree(orchard, "B-1"))
    other = make_task(tree)
    assert set(feeding.sampling_tasks(orchard)) == {task, elsewhere}
    [closure] = closed_by(tree, vera, place=place)
    assert (closure.task_id, closure.done_on) == (task.pk, TODAY)
    assert "Lab 7/12" in closure.evidence
    still_open = set(Task.objects.filter(closed_at=None))
    assert still_open == {elsewhere, other}


def test_a_task_that_was_not_open_yet_stays_and_so_does_one_nobody_ticked(tree, vera):
    task = sampling(tree, opens_on=TODAY, due_on=TODAY)
    assert closed_by(tree, vera, taken_on=TODAY - timedelta(days=1)) == []
    assert closed_by(tree, vera, closes_task=False) == []
    task.refresh_from_db()
    assert task.closed_at is None
