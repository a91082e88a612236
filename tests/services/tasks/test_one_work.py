"""A look, a finding and the plan ask for one piece of work once."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from orchard.records.models import CarePlan, Closure, Task
from orchard.services import care_plan, inspections, tasks
from orchard.services.inspections import SeenSign
from tests.conftest import make_orchard, make_person, make_tree

pytestmark = pytest.mark.django_db
LONG_AGO = datetime(2015, 1, 1, tzinfo=UTC)
MAY = date(2026, 5, 12)


def moment(day):
    return datetime(day.year, day.month, day.day, 10, 0, tzinfo=UTC)


@pytest.fixture
def tree(db):
    return make_tree(make_orchard(founded_at=LONG_AGO), entered_at=LONG_AGO)


@pytest.fixture
def vera(tree):
    return make_person("Vera", tree.orchard, "volunteer")


def plan(tree, *jobs):
    for job in jobs:
        CarePlan.objects.create(
            orchard=tree.orchard, job=job, active=True, set_at=LONG_AGO
        )
    return night(tree, MAY)


def night(tree, day):
    return care_plan.open_next(tree.orchard, now=moment(day), today=day)


def look(tree, by, day=MAY, **fields):
    at = moment(day)
    return inspections.record(tree, by=by, now=at, seen_at=at, **fields)


def sucker():
    return SeenSign("sucker", answers={"graft": "below", "woody": False})


def open_work(tree):
    return set(tree.tasks.open().values_list("kind", "key"))


def test_all_well_closes_what_a_look_proves_and_nothing_else(tree, vera):
    plan(tree, "monthly_look", "sucker_round", "weed_ring")
    look(tree, vera, all_well=True)
    assert open_work(tree) == {("care", "weed_ring")}
    closed = Closure.objects.get(task__key="sucker_round")
    assert (closed.how, closed.by, closed.done_on) == ("done", vera, MAY)


def test_a_look_that_found_another_sign_does_not_prove_the_suckers(tree, vera):
    plan(tree, "monthly_look", "sucker_round")
    look(tree, vera, findings=[SeenSign("aphids", answers={"pct": 5})])
    assert ("care", "sucker_round") in open_work(tree)
    assert ("care", "monthly_look") not in open_work(tree)


def test_the_work_of_a_sign_takes_the_place_of_the_same_job_of_the_plan(tree, vera):
    plan(tree, "sucker_round")
    look(tree, vera, findings=[sucker()])
    assert ("act", "sucker") in open_work(tree)
    assert ("care", "sucker_round") not in open_work(tree)
    assert night(tree, date(2026, 8, 1)) == []
    (act,) = tree.tasks.open().filter(kind="act")
    done = date(2026, 8, 1)
    tasks.close(act, by=vera, now=moment(done), today=done)
    assert night(tree, date(2026, 8, 20)) == []
    (again,) = night(tree, date(2026, 9, 30))
    assert (again.key, again.due_on) == ("sucker_round", date(2026, 9, 30))


def test_a_look_for_a_pest_to_report_stands_above_the_harvest(tree, vera):
    opened = plan(tree, "psyllid_watch", "weed_ring")
    ranks = {task.key: task.rank for task in opened}
    assert ranks["psyllid_watch"] < ranks["weed_ring"]
    look(tree, vera, findings=[SeenSign("psyllid_pits", answers={})])
    looks = tree.tasks.filter(kind="look", key="psyllid_pits")
    assert {task.rank for task in looks} <= {Task.RANK_OF_PEST_WATCH}


@pytest.mark.parametrize(
    ("conditions", "stands"),
    [
        ((4, 2), True),
        ((5, 4, 3), True),
        ((4, 3), False),
        ((4, 4, 3), False),
        ((3, 4), False),
    ],
)
def test_a_falling_condition_stands_on_the_board_until_somebody_looks(
    tree, vera, conditions, stands
):
    for number, condition in enumerate(conditions):
        look(tree, vera, date(2026, 5, 1 + number), condition=condition, note="Seen")
    assert (("look", "condition") in open_work(tree)) is stands
    look(tree, vera, date(2026, 5, 20), note="Looked at it again")
    assert ("look", "condition") not in open_work(tree)
