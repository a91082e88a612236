"""Rows are carried through the migrations that take tasks apart, there and back."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from tests.conftest import make_orchard, make_tree

pytestmark = pytest.mark.django_db(transaction=True)

BEFORE, AFTER = "0010_ripeness_and_cut_tests", "0012_cut_test"
# What a task was about and where, and what its columns say instead.
STRINGS_AND_COLUMNS = [
    ("job:mulch", "tree", "care", "mulch"),
    ("sign:sucker", "tree", "act", "sucker"),
    ("look:sucker", "tree", "look", "sucker"),
    ("report:psyllid_nymph", "tree", "report", "psyllid_nymph"),
    ("job:maturity", "block", "care", "maturity"),
    ("job:drip_check", "orchard", "care", "drip_check"),
]


def migrate_to(name):
    """Take the tables to a migration and return their classes as of then."""
    MigrationExecutor(connection).migrate([("records", name)])
    loader = MigrationExecutor(connection).loader
    return loader.project_state([("records", name)]).apps


@pytest.fixture
def before():
    """Yield the classes of before; take the tables to the newest again afterwards."""
    newest = MigrationExecutor(connection).loader.graph.leaf_nodes("records")
    yield migrate_to(BEFORE)
    MigrationExecutor(connection).migrate(newest)


@pytest.fixture
def place():
    """Add a tree with as much as was always there, and return what it is found by."""
    tree = make_tree(make_orchard(), "A-1")
    return {
        "tree": tree.pk,
        "block": tree.spot.block_id,
        "orchard": tree.orchard_id,
    }


def add_task(apps, place, noun, what, sort, occurrence="1"):
    today = timezone.localdate()
    return apps.get_model("records", "Task").objects.create(
        orchard_id=place["orchard"],
        block_id=None if noun == "orchard" else place["block"],
        tree_id=place["tree"] if noun == "tree" else None,
        what=what,
        subject=f"{noun}:{place[noun]}",
        sort=sort,
        rank=1,
        occurrence=occurrence,
        title="Work",
        opens_on=today,
        due_on=today,
        rhythm_days=7,
        made_at=timezone.now(),
    )


def test_what_a_task_is_about_is_carried_forth_and_back(place, before):
    added = [
        add_task(before, place, noun, what, kind).pk
        for what, noun, kind, _key in STRINGS_AND_COLUMNS
    ]

    task = migrate_to(AFTER).get_model("records", "Task")
    columns = [
        (row.kind, row.key, row.tree_id, row.block_id)
        for row in map(task.objects.in_bulk(added).get, added)
    ]
    assert columns == [
        (
            kind,
            key,
            place["tree"] if noun == "tree" else None,
            None if noun == "orchard" else place["block"],
        )
        for _what, noun, kind, key in STRINGS_AND_COLUMNS
    ]

    again = migrate_to(BEFORE)
    rows = again.get_model("records", "Task").objects.in_bulk(added)
    strings = [(rows[pk].what, rows[pk].subject, rows[pk].sort) for pk in added]
    assert strings == [
        (what, f"{noun}:{place[noun]}", kind)
        for what, noun, kind, _key in STRINGS_AND_COLUMNS
    ]
    # The strings are guarded again as they were.
    with pytest.raises(IntegrityError), transaction.atomic():
        add_task(again, place, "tree", "job:mulch", "care", "2")


def test_what_a_cut_test_showed_is_carried_forth_and_back(place, before):
    closure = before.get_model("records", "Closure")
    ends = {}
    for number, counts in enumerate([(10, 2), (12, 0), (None, None)]):
        what = f"job:frost_fruit_cut_{number}"
        row = closure.objects.create(
            task_id=add_task(before, place, "tree", what, "care").pk,
            how="done",
            done_on=timezone.localdate(),
            closed_at=timezone.now(),
            fruit_cut=counts[0],
            fruit_spoilt=counts[1],
        )
        ends[row.pk] = counts

    results = migrate_to(AFTER).get_model("records", "CutTest").objects
    found = results.values_list("closure_id", "fruit_cut", "fruit_spoilt")
    counted = [(pk, *counts) for pk, counts in ends.items() if None not in counts]
    assert sorted(found) == sorted(counted)

    rows = migrate_to(BEFORE).get_model("records", "Closure").objects.in_bulk(ends)
    assert {pk: (row.fruit_cut, row.fruit_spoilt) for pk, row in rows.items()} == ends
