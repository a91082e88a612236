"""A tree with an open case is left alone: no work opens, what is open waits."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from orchard.records.models import CarePlan, Case, Task
from orchard.science import guide
from orchard.science.words import WorkKind
from orchard.services import care_plan, cases, holds, inspections, ripeness, tasks
from orchard.services.holds import by_tree
from orchard.services.inspections import SeenSign
from orchard.services.permissions import member_for
from tests.conftest import make_orchard, make_person, make_tree
from tests.refusals import refused
from tests.services.tasks.test_board import rows_on_board

pytestmark = pytest.mark.django_db
LONG_AGO = datetime(2015, 1, 1, tzinfo=UTC)
AUTUMN = date(2026, 11, 12)
SUSPECT = SeenSign("psyllid_nymph", {"count": 2})
SUCKER = SeenSign("sucker", {"graft": "below", "woody": False})
READY = {
    "brix_read": 11.4,
    "acid_percent": 1.2,
    "juice_percent": 40.0,
    "taste": 4,
    "tasters": 3,
}
REASON = "The coordinator has asked to leave this tree alone: take nothing from it."
# What each sort of work is at a tree, as jobs of the guide.
FORBIDDEN = {
    "mummies": "clearing",
    "pick_before_frost": "picking",
    "pot_feed": "feeding",
    "pots_under_shelter": "moving",
    "thin_other_fruit": "clearing",
    "sucker_round": "pruning", "sprout_round": "pruning", "skirt": "pruning",
    "deadwood": "pruning", "gall_prune": "pruning", "feed_1": "feeding",
    "feed_2": "feeding", "feed_3": "feeding", "leaf_test": "sampling",
    "maturity": "sampling", "frost_fruit_cut": "sampling", "harvest": "picking",
    "fruitlets_off": "clearing", "windfalls": "clearing", "repot": "moving",
}  # fmt: skip


def moment(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 9, tzinfo=UTC)


def look(tree, by, *seen, day=AUTUMN):
    at = moment(day)
    return inspections.record(tree, by=by, now=at, seen_at=at, findings=list(seen))


def open_keys(tree) -> set[str]:
    return set(tree.tasks.open().values_list("key", flat=True))


def open_next(orchard, day=AUTUMN):
    return care_plan.open_next(orchard, now=moment(day), today=day)


@pytest.fixture
def orchard(db):
    return make_orchard(founded_at=LONG_AGO)


@pytest.fixture
def tree(orchard):
    return make_tree(orchard, entered_at=LONG_AGO)


def plan(orchard, *jobs):
    for job in jobs:
        CarePlan.objects.create(orchard=orchard, job=job, active=True, set_at=LONG_AGO)


def test_the_guide_says_of_every_job_what_it_does_to_a_tree():
    jobs = guide.load().jobs.values()
    assert {job.key: [kind.value for kind in job.work] for job in jobs if job.work} == {
        key: [kind] for key, kind in FORBIDDEN.items()
    }


@pytest.mark.parametrize("kind", list(WorkKind))
def test_an_open_case_forbids_every_sort_of_work_and_a_frost_only_picking(
    tree, vera, kind
):
    look(tree, vera, SUSPECT)
    found = holds.holds_of(tree.orchard, today=AUTUMN, forbidding=kind)
    assert list(found) == [tree.pk]
    rules = guide.load().holds
    for name, rule in rules.items():
        # While nobody may enter, no work is done at all.
        if name not in ("open_case", "entry"):
            assert (kind in rule.work) is (kind == WorkKind.PICKING)


def test_one_query_tells_that_nothing_is_held(
    orchard, tree, vera, django_assert_num_queries
):
    for trees in (None, [tree.pk]):
        with django_assert_num_queries(1):
            assert holds.holds_of(orchard, trees, today=AUTUMN) == {}
    with django_assert_num_queries(0):
        assert holds.holds_of(orchard, [], today=AUTUMN) == {}
    look(tree, vera, SUSPECT)
    with django_assert_num_queries(2):
        assert list(holds.holds_of(orchard, today=AUTUMN)) == [tree.pk]


def test_holds_are_found_among_more_trees_than_are_named_for_each_source(
    orchard, tree, vera, monkeypatch
):
    beside, other = (make_tree(orchard, code) for code in ("A-2", "A-3"))
    for row in (tree, other):
        look(row, vera, SUSPECT)
    wanted = [tree.pk, beside.pk]
    named = holds.holds_of(orchard, wanted, today=AUTUMN)
    monkeypatch.setattr(by_tree, "MANY_TREES", 1)
    assert holds.holds_of(orchard, wanted, today=AUTUMN) == named
    assert list(named) == [tree.pk]


@pytest.mark.parametrize("key", sorted(FORBIDDEN))
def test_what_is_open_waits_with_a_reason_that_tells_nothing(tree, vera, key):
    look(tree, vera, SUSPECT)
    task = Task(
        orchard=tree.orchard, tree=tree, block_id=tree.spot.block_id, kind="care",
        key=key, title=key, opens_on=AUTUMN, due_on=AUTUMN, rhythm_days=7,
        occurrence="1", made_at=moment(AUTUMN), rank=30,
    )  # fmt: skip
    now = tasks.circumstances(tree.orchard, today=AUTUMN)
    assert REASON in tasks.why_it_waits(task, now)
    for word in ("case", "pest", "suspe", "authority"):
        assert word not in REASON.casefold()
    Case.objects.update(
        closed_at=moment(AUTUMN), closed_by=vera, outcome="Not found there"
    )
    now = tasks.circumstances(tree.orchard, today=AUTUMN)
    assert REASON not in tasks.why_it_waits(task, now)


@pytest.mark.parametrize("key", ["water_ground", "weed_ring", "trunk_ring", "measure"])
def test_looks_water_and_the_ground_around_it_go_on(tree, vera, key):
    look(tree, vera, SUSPECT)
    job = guide.load().jobs[key]
    [hold] = holds.holds_of(tree.orchard, today=AUTUMN)[tree.pk]
    assert not hold.forbids(job.work)


def test_the_plan_opens_nothing_that_is_forbidden_on_it(tree, orchard, vera):
    other = make_tree(orchard, "A-2", entered_at=LONG_AGO)
    plan(orchard, "sucker_round", "trunk_ring")
    look(tree, vera, SUSPECT)
    open_next(orchard)
    assert "sucker_round" in open_keys(other)
    assert "sucker_round" not in open_keys(tree)
    assert "trunk_ring" in open_keys(tree)
    cora = make_person("Cora", orchard, "coordinator")
    after = moment(AUTUMN + timedelta(days=1))
    cases.close(Case.objects.get(), by=cora, now=after, outcome="Not found")
    open_next(orchard, AUTUMN + timedelta(days=1))
    assert "sucker_round" in open_keys(tree)


def test_a_test_of_a_block_leaves_it_out_and_falls_silent_when_it_is_alone(
    tree, orchard, vera
):
    plan(orchard, "maturity")
    look(tree, vera, SUSPECT)
    assert open_next(orchard) == []
    make_tree(orchard, "A-2", entered_at=LONG_AGO)
    [task] = open_next(orchard)
    [row] = rows_on_board(member_for(vera, "alderbrook"), today=AUTUMN)
    assert (row.number, row.left_out, row.waits) == (task.pk, ("A-1",), ())
    Case.objects.update(closed_at=moment(AUTUMN), closed_by=vera, outcome="No")
    [row] = rows_on_board(member_for(vera, "alderbrook"), today=AUTUMN)
    assert row.left_out == ()


def test_a_block_of_trees_left_alone_waits(tree, orchard, vera):
    plan(orchard, "maturity")
    [task] = open_next(orchard)
    look(tree, vera, SUSPECT)
    [row] = rows_on_board(member_for(vera, "alderbrook"), today=AUTUMN)
    assert (row.number, row.waits) == (task.pk, (REASON,))


def test_a_cut_that_a_look_calls_for_opens_when_the_case_is_closed(tree, orchard, vera):
    look(tree, vera, SUSPECT)
    look(tree, vera, SUCKER, SeenSign("tie_girdle", {"yes": True}))
    assert "sucker" not in set(
        tree.tasks.open().filter(kind="act").values_list("key", flat=True)
    )
    assert tree.tasks.open().filter(kind="act", key="tie_girdle").exists()
    cora = make_person("Cora", orchard, "coordinator")
    later = AUTUMN + timedelta(days=90)
    cases.close(Case.objects.get(), by=cora, now=moment(later), outcome="Not found")
    task = tree.tasks.open().get(kind="act", key="sucker")
    assert task.due_on == later


def test_a_cut_that_was_open_before_waits(tree, vera):
    look(tree, vera, SUCKER, day=AUTUMN - timedelta(days=1))
    look(tree, vera, SUSPECT)
    rows = rows_on_board(member_for(vera, "alderbrook"), today=AUTUMN)
    [row] = [row for row in rows if row.verdict == "act"]
    assert REASON in row.waits


def test_its_fruit_is_never_ready_and_takes_no_test(tree, orchard, vera):
    said = {"by": vera, "now": moment(AUTUMN), "today": AUTUMN}
    before = AUTUMN - timedelta(days=1)
    ripeness.note_test(tree, tested_on=before, fruits=5, **READY, **said)
    [row] = ripeness.ripeness_of_kinds(orchard, today=AUTUMN)
    assert row.is_ready
    look(tree, vera, SUSPECT)
    [row] = ripeness.ripeness_of_kinds(orchard, today=AUTUMN)
    assert not row.is_ready and row.reasons == ((REASON, "A-1"),)
    with refused("left_alone", match="A-1"):
        ripeness.note_test(tree, tested_on=AUTUMN, fruits=5, **READY, **said)
    # What was tested before it was asked for is still a record.
    assert ripeness.note_test(tree, tested_on=before, fruits=5, **READY, **said)
    make_tree(orchard, "A-2", entered_at=LONG_AGO)
    [row] = ripeness.ripeness_of_kinds(orchard, today=AUTUMN)
    assert row.is_ready
    assert [free.code for free in row.free_trees] == ["A-2"]


def test_no_picking_opens_on_it(tree, orchard, vera):
    make_tree(orchard, "A-2", entered_at=LONG_AGO)
    plan(orchard, "harvest")
    look(tree, vera, SUSPECT)
    said = {"by": vera, "now": moment(AUTUMN), "today": AUTUMN}
    _reading, opened = ripeness.note_and_open(
        orchard.trees.get(code="A-2"), tested_on=AUTUMN, fruits=5, **READY, **said
    )
    assert [(task.key, task.tree.code) for task in opened] == [("harvest", "A-2")]
