"""The care plan opens tasks: in season, once, north and south."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from orchard.records.models import CarePlan, Change, Happening, StageNote, Task
from orchard.services import care_plan, tasks
from tests.conftest import NOW, make_orchard, make_tree

pytestmark = pytest.mark.django_db

LONG_AGO = datetime(2015, 1, 1, tzinfo=UTC)


def moment(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 9, tzinfo=UTC)


def plan(orchard, job, **fields) -> CarePlan:
    values = {"active": True, "set_at": LONG_AGO, **fields}
    return CarePlan.objects.create(orchard=orchard, job=job, **values)


def old_tree(orchard, code="A-1", **fields):
    return make_tree(orchard, code, entered_at=LONG_AGO, **fields)


def night(orchard, day: date) -> list[Task]:
    return care_plan.open_next(orchard, now=moment(day), today=day)


@pytest.fixture
def orchard(db):
    return make_orchard(founded_at=LONG_AGO)


@pytest.fixture
def southbank(db):
    return make_orchard("southbank", south=True, founded_at=LONG_AGO)


def test_window_crossing_new_year_is_one_occurrence(orchard, vera):
    old_tree(orchard)
    plan(orchard, "mulch", window="SM9-15..SM12-15")

    (task,) = night(orchard, date(2026, 1, 3))

    assert (task.opens_on, task.due_on) == (date(2025, 11, 15), date(2026, 2, 15))
    assert task.occurrence == "2025"
    assert night(orchard, date(2026, 1, 4)) == []
    assert Task.objects.count() == 1


def test_window_crossing_new_year_done_in_december_does_not_come_back(orchard, vera):
    old_tree(orchard)
    plan(orchard, "mulch", window="SM9-15..SM12-15")
    (task,) = night(orchard, date(2025, 12, 20))
    done = date(2025, 12, 28)
    tasks.close(task, by=vera, now=moment(done), today=done)

    assert night(orchard, date(2026, 1, 1)) == []
    assert night(orchard, date(2026, 2, 15)) == []
    (again,) = night(orchard, date(2026, 11, 15))
    assert again.occurrence == "2026"


def test_the_same_window_lies_half_a_year_off_in_the_south(southbank):
    old_tree(southbank)
    plan(southbank, "gall_prune", set_by=None)
    # Nobody has said that gall wasps occur here, so nobody is sent to cut galls.
    assert night(southbank, date(2026, 3, 1)) == []


def test_south_has_gall_removal_from_february_to_august(southbank, otto):
    old_tree(southbank)
    plan(southbank, "gall_prune", set_by=otto)

    (task,) = night(southbank, date(2026, 3, 1))

    assert (task.opens_on, task.due_on) == (date(2026, 2, 15), date(2026, 8, 15))


def test_opening_twice_opens_nothing_more(orchard):
    for number in range(3):
        old_tree(orchard, f"A-{number}")
    for job in ("sucker_round", "weed_ring", "tag_check", "record_review"):
        plan(orchard, job)
    day = date(2026, 5, 12)

    first = night(orchard, day)
    second = night(orchard, day)

    assert len(first) == 9
    assert second == []
    lines = Change.objects.filter(verb="open_next")
    assert lines.count() == 1
    assert lines.get().after["opened"] == 9


def test_a_week_of_silence_floods_nobody(orchard, vera):
    old_tree(orchard)
    plan(orchard, "monthly_look")
    plan(orchard, "traps")
    day = date(2026, 5, 1)
    for task in night(orchard, day):
        tasks.close(task, by=vera, now=moment(day), today=day)

    opened = night(orchard, date(2026, 6, 10))

    assert sorted((task.key, task.due_on) for task in opened) == [
        ("monthly_look", date(2026, 5, 31)),
        ("traps", date(2026, 5, 15)),
    ]


def test_what_came_due_in_a_silent_week_is_still_opened(orchard, vera):
    tree = old_tree(orchard)
    plan(orchard, "frost_after")
    Happening.objects.create(
        orchard=orchard,
        tree=tree,
        what="frost_night",
        happened_on=date(2026, 1, 10),
        by=vera,
        received_at=NOW,
    )

    # Due on the 13th (three days after), but nobody opened tasks until the 18th.
    (task,) = night(orchard, date(2026, 1, 18))

    assert (task.opens_on, task.due_on) == (date(2026, 1, 13), date(2026, 1, 13))


def test_work_never_done_before_is_not_late_on_its_first_day(orchard):
    old_tree(orchard, planted_on=date(2016, 3, 20))
    plan(orchard, "sucker_round")
    (task,) = night(orchard, date(2026, 5, 12))
    assert task.due_on == date(2026, 5, 12)


def test_only_growing_trees_to_which_a_job_applies_get_it(orchard):
    old_tree(orchard, "A-1")
    old_tree(orchard, "A-2", own_roots=True)
    old_tree(orchard, "A-3", state="dead")
    old_tree(orchard, "A-4", setting="container")
    plan(orchard, "sucker_round")
    plan(orchard, "weed_ring")
    opened = {(task.tree.code, task.key) for task in night(orchard, date(2026, 5, 12))}
    assert opened == {
        ("A-1", "sucker_round"),
        ("A-4", "sucker_round"),
        ("A-1", "weed_ring"),
        ("A-2", "weed_ring"),
    }


def test_a_job_switched_off_opens_nothing(orchard):
    old_tree(orchard)
    row = plan(orchard, "sucker_round", active=False, reason="No suckers here")
    assert night(orchard, date(2026, 5, 12)) == []
    row.active = True
    row.save()
    assert len(night(orchard, date(2026, 5, 12))) == 1


def test_the_orchards_own_interval_holds(orchard, vera):
    old_tree(orchard)
    plan(orchard, "sucker_round", every_days=14)
    day = date(2026, 5, 12)
    (task,) = night(orchard, day)
    assert task.rhythm_days == 14
    tasks.close(task, by=vera, now=moment(day), today=day)
    (again,) = night(orchard, date(2026, 5, 26))
    assert (again.due_on, again.occurrence) == (date(2026, 5, 26), "after 2026-05-12")


def test_skipped_work_waits_for_its_next_turn(orchard, vera):
    old_tree(orchard)
    plan(orchard, "monthly_look")
    day = date(2026, 5, 12)
    (task,) = night(orchard, day)
    tasks.close(
        task, by=vera, now=moment(day), today=day, how="skipped", reason="Wasp nest"
    )
    assert night(orchard, day) == []
    (again,) = night(orchard, date(2026, 6, 11))
    assert again.due_on == date(2026, 6, 11)


def test_a_logged_growth_stage_starts_flush_scouting_of_its_group(orchard, vera):
    tree = old_tree(orchard)
    plan(orchard, "flush_scout")
    assert night(orchard, date(2026, 4, 2)) == []
    StageNote.objects.create(
        orchard=orchard,
        group=tree.kind.group,
        bbch=11,
        seen_on=date(2026, 4, 1),
        by=vera,
        received_at=NOW,
    )
    (task,) = night(orchard, date(2026, 4, 2))
    assert (task.rhythm_days, task.due_on) == (7, date(2026, 4, 8))


def test_whitewash_done_for_one_reason_is_not_asked_for_by_the_other(orchard, vera):
    tree = old_tree(orchard)
    plan(orchard, "whitewash")
    Happening.objects.create(
        orchard=orchard,
        tree=tree,
        what="bark_bared",
        happened_on=date(2026, 4, 10),
        by=vera,
        received_at=NOW,
    )
    (task,) = night(orchard, date(2026, 4, 12))
    tasks.close(task, by=vera, now=NOW, today=date(2026, 4, 12))
    assert night(orchard, date(2026, 4, 13)) == []
    assert night(orchard, date(2026, 5, 14)) == []


def test_opening_asks_as_often_for_many_trees_as_for_few(
    orchard, django_assert_num_queries
):
    def ask(number):
        day = date(2026, 5, 12) + timedelta(days=number)
        with django_assert_num_queries(25):
            return night(orchard, day)

    plan(orchard, "sucker_round")
    plan(orchard, "trunk_ring")
    old_tree(orchard, "A-1")
    assert len(ask(0)) == 2
    for number in range(2, 20):
        old_tree(orchard, f"A-{number}")
    assert len(ask(1)) == 36
