"""The care plan is read in this hemisphere's dates and set with reasons."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from orchard.records.models import CarePlan, Change, Task
from orchard.science import guide
from orchard.services import care_plan, tasks
from orchard.services.guide_sync import bring_up_to_date
from tests.conftest import NOW, TODAY, make_orchard, make_tree
from tests.refusals import refused

pytestmark = pytest.mark.django_db
LONG_AGO = datetime(2015, 1, 1, tzinfo=UTC)


@pytest.fixture
def orchard(db):
    return make_orchard(founded_at=LONG_AGO)


def plan(orchard, job, **fields):
    values = {"set_at": LONG_AGO, **fields}
    return CarePlan.objects.create(orchard=orchard, job=job, **values)


def set_job(orchard, cora, key="sucker_round", **fields):
    values = {"active": True, "reason": "Dry year", **fields}
    return care_plan.set_job(orchard, key, by=cora, now=NOW, today=TODAY, **values)


def test_a_window_is_told_in_the_dates_of_its_own_hemisphere(orchard, southbank):
    plan(orchard, "gall_prune")
    plan(southbank, "gall_prune")
    north = care_plan.planned_job(orchard, "gall_prune", today=TODAY)
    south = care_plan.planned_job(southbank, "gall_prune", today=TODAY)
    assert north.when == ("Once in each window: 15 Aug to 15 Feb.",)
    assert south.when == ("Once in each window: 15 Feb to 15 Aug.",)


def test_every_job_of_the_guide_is_told_in_words(orchard, southbank):
    make_tree(southbank)
    for place in (orchard, southbank):
        bring_up_to_date(place, NOW)
        told = care_plan.planned_jobs(place, today=TODAY)
        assert {one.job.key for one in told} == set(guide.load().jobs)
        for one in told:
            assert one.when
            assert all(sentence.endswith(".") for sentence in one.when)
            assert "_" not in "".join(one.when)


def test_a_job_counts_its_trees_and_those_of_which_too_little_is_known(orchard):
    make_tree(orchard, "A-1")
    make_tree(orchard, "A-2", planted_on=None, born_on=None)
    plan(orchard, "skirt")
    told = care_plan.planned_job(orchard, "skirt", today=TODAY)
    assert [tree.code for tree in told.trees] == ["A-1"]
    assert told.unsure == 1


def test_a_job_switched_off_lets_its_open_tasks_fall_and_on_again_opens_them(
    orchard, cora
):
    make_tree(orchard, entered_at=LONG_AGO)
    plan(orchard, "sucker_round")
    (task,) = care_plan.open_next(orchard, now=NOW, today=TODAY)

    set_job(orchard, cora, active=False, reason="No grafted trees left")

    closure = task.closures.get()
    assert (closure.how, closure.reason) == ("cancelled", "No grafted trees left")
    assert care_plan.open_next(orchard, now=NOW, today=TODAY) == []
    line = Change.objects.get(verb="set_job")
    assert (line.before["active"], line.after["active"]) == (True, False)

    set_job(orchard, cora, active=True, reason="There are some after all")
    (again,) = care_plan.open_next(orchard, now=NOW, today=TODAY)
    assert (again.due_on, again.pk != task.pk) == (TODAY, True)
    tasks.close(again, by=cora, now=NOW, today=TODAY)
    assert care_plan.open_next(orchard, now=NOW, today=TODAY) == []
    assert Task.objects.count() == 2


def test_a_change_of_the_plan_says_why(orchard, cora):
    plan(orchard, "sucker_round")
    with refused("reason_missing"):
        set_job(orchard, cora, active=False, reason=" ")
    assert set_job(orchard, cora, active=False).active is False


def test_an_interval_fits_only_jobs_that_have_one(orchard, cora):
    plan(orchard, "sucker_round")
    plan(orchard, "mulch")
    with refused("does_not_fit"):
        set_job(orchard, cora, "mulch", every_days=10)
    with refused("does_not_fit"):
        set_job(orchard, cora, every_days=0)
    set_job(orchard, cora, every_days=14)
    told = care_plan.planned_job(orchard, "sucker_round", today=TODAY)
    assert told.when == ("Every 14 days.",)


def test_an_own_interval_is_told_once_where_the_guide_has_two(orchard, cora):
    plan(orchard, "water_new")
    told = care_plan.planned_job(orchard, "water_new", today=TODAY)
    assert told.when == ("Every 3 days after planting, later every 7.",)
    set_job(orchard, cora, "water_new", every_days=5)
    told = care_plan.planned_job(orchard, "water_new", today=TODAY)
    assert told.when == ("Every 5 days after planting.",)


def test_a_window_is_one_that_can_be_read(orchard, cora):
    plan(orchard, "mulch")
    plan(orchard, "frost_after")
    for wrong in ("May to June", "SM13-01..SM2-01"):
        with refused("does_not_fit", match="Write the window like"):
            set_job(orchard, cora, "mulch", window=wrong)
    with refused("does_not_fit", match="has no window"):
        set_job(orchard, cora, "frost_after", window="SM1-01..SM2-01")
    set_job(orchard, cora, "mulch", window="SM9-15..SM12-15")
    told = care_plan.planned_job(orchard, "mulch", today=date(2026, 1, 3))
    assert told.when == ("Once in each window: 15 Nov to 15 Feb.",)


def test_a_job_that_is_none_is_not_there(orchard, cora):
    with refused("no_such_job"):
        set_job(orchard, cora, "juggling")
    with refused("no_such_job"):
        care_plan.planned_job(orchard, "sucker_round", today=TODAY)


def test_days_after_an_event_and_a_year_are_told_as_people_say_them(orchard):
    plan(orchard, "frost_fruit_cut")
    plan(orchard, "whitewash")
    told = care_plan.planned_job(orchard, "frost_fruit_cut", today=TODAY)
    assert told.when == ("On the day of a hard frost and 7 and 14 days after.",)
    told = care_plan.planned_job(orchard, "whitewash", today=TODAY)
    assert told.when[0].startswith("Once a year, from ")


def test_a_row_of_a_job_that_left_the_guide_plans_nothing(orchard, cora):
    make_tree(orchard)
    row = plan(orchard, "gone_from_the_guide")
    bring_up_to_date(orchard, NOW)
    jobs = care_plan.planned_jobs(orchard, today=TODAY)
    assert {one.job.key for one in jobs} == set(guide.load().jobs)
    care_plan.open_next(orchard, now=NOW, today=TODAY)
    assert not Task.objects.filter(key=row.job).exists()
    with refused("no_such_job"):
        care_plan.planned_job(orchard, row.job, today=TODAY)
    with refused("no_such_job"):
        set_job(orchard, cora, row.job)
