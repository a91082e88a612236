"""Two people, or two runs, at the very same time: one wins, nothing is doubled."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from threading import Barrier, Event
from time import sleep

import pytest
from django.db import connections

from orchard.records.models import CarePlan, Change, Closure, Task, Watering
from orchard.services import care_plan, corrections, inspections, tasks, water
from orchard.services.errors import Refused
from orchard.services.inspections import recording
from orchard.services.tasks import closing
from tests.conftest import NOW, TODAY, make_tree
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db(transaction=True)
LONG_AGO = datetime(2015, 1, 1, tzinfo=UTC)


def at_once(*deeds):
    """Run deeds in threads that start together; return what each gave or refused."""
    start = Barrier(len(deeds))

    def run(deed):
        start.wait()
        try:
            return deed()
        except Refused as refusal:
            return refusal
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(deeds)) as pool:
        return list(pool.map(run, deeds))


def refusals(answers):
    return [one for one in answers if isinstance(one, Refused)]


def test_one_of_two_takes_the_work_and_the_other_is_told(tree, vera, lee):
    task = make_task(tree)
    answers = at_once(
        lambda: tasks.take_task(task, by=vera, now=NOW),
        lambda: tasks.take_task(task, by=lee, now=NOW),
    )
    (refusal,) = refusals(answers)
    task.refresh_from_db()
    assert task.taken_by.name in str(refusal)
    assert Change.objects.filter(verb="take").count() == 1


def test_one_of_two_closes_the_work_and_the_other_is_told(tree, vera, lee):
    task = make_task(tree)
    answers = at_once(
        lambda: tasks.close(task, by=vera, now=NOW, today=TODAY),
        lambda: tasks.close(Task.objects.get(), by=lee, now=NOW, today=TODAY),
    )
    (refusal,) = refusals(answers)
    assert "has done this already" in str(refusal)
    assert Closure.objects.count() == 1


def test_two_nights_at_once_open_each_task_once(orchard):
    for number in range(1, 6):
        make_tree(orchard, f"A-{number}", entered_at=LONG_AGO)
    for job in ("weed_ring", "trunk_ring"):
        CarePlan.objects.create(orchard=orchard, job=job, set_at=LONG_AGO)

    answers = at_once(
        *[lambda: care_plan.open_next(orchard, now=NOW, today=TODAY) for _ in range(2)]
    )

    assert refusals(answers) == []
    assert Task.objects.count() == 10


def test_two_withdrawals_of_one_closing_open_its_work_again(tree, vera, monkeypatch):
    make_tree(tree.orchard, "A-2", irrigated=True)
    tree.irrigated = True
    tree.save()
    task = make_task(tree)
    task.tree = None
    task.save()
    water.close_watering(task, litres=10.0, by=vera, now=NOW, today=TODAY)
    both = Barrier(2)
    withdraw = corrections.withdraw

    def withdraw_together(*args, **more):
        gone = withdraw(*args, **more)
        # SQLite lets one writer in at a time, so the other cannot come this far.
        if connections["default"].vendor == "postgresql":
            both.wait(timeout=10)
        return gone

    monkeypatch.setattr(corrections, "withdraw", withdraw_together)
    answers = at_once(
        *[
            lambda row=row: water.withdraw_measurement(
                row, by=vera, now=NOW, reason="another block"
            )
            for row in Watering.objects.order_by("id")
        ]
    )

    assert [one.reopened for one in answers].count(task) == 1
    assert Task.objects.open().get() == task


def test_a_look_and_the_night_meet_at_a_tree_and_both_go_on(tree, vera, monkeypatch):
    task = make_task(tree)
    night_has_task, look_has_tree = Event(), Event()
    lock_trees, end_checked = recording._lock_trees, closing.end_checked
    # SQLite lets one writer in at a time, so the two cannot meet.
    patience = 10 if connections["default"].vendor == "postgresql" else 0

    def lock_trees_after(trees):
        night_has_task.wait(patience)
        locked = lock_trees(trees)
        look_has_tree.set()
        return locked

    def end_beside(endings):
        night_has_task.set()
        if look_has_tree.wait(patience):
            # The look waits for the task now, while what follows names its tree.
            sleep(0.3)
        return end_checked(endings)

    monkeypatch.setattr(recording, "_lock_trees", lock_trees_after)
    monkeypatch.setattr(closing, "end_checked", end_beside)
    _fallen, looked = at_once(
        lambda: tasks.fall_away_all(
            [(task, "the night was mild")], by=None, now=NOW, today=TODAY
        ),
        lambda: inspections.record(tree, by=vera, now=NOW, seen_at=NOW, all_well=True),
    )
    assert looked.inspection.tree == tree
    task.refresh_from_db()
    assert task.closed_at
