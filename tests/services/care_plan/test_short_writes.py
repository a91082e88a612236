"""The next tasks are worked out while others write, and written in short turns."""

from __future__ import annotations

import sqlite3
import threading
from datetime import UTC, datetime, timedelta

import pytest
from django.db import OperationalError, connection, connections

from orchard.records.models import CarePlan, Change, StageNote, Task, Tree
from orchard.services import batches, care_plan, observations, tasks
from orchard.services.care_plan import outgrown, schedule
from orchard.services.tasks import OneOff
from tests.conftest import NOW, TODAY, make_spot, make_tree

LONG_AGO = datetime(2015, 1, 1, tzinfo=UTC)
JOB = "weed_ring"
WHEN = {"now": NOW, "today": TODAY}


@pytest.fixture
def three_trees(orchard):
    CarePlan.objects.create(orchard=orchard, job=JOB, set_at=LONG_AGO)
    return [
        make_tree(orchard, f"A-{number}", entered_at=LONG_AGO) for number in range(1, 4)
    ]


@pytest.fixture
def meanwhile(monkeypatch):
    """Let something happen once all is worked out and nothing is written."""

    def happens(deed):
        name_anew = schedule._name_anew

        def then(*args):
            name_anew(*args)
            deed()

        monkeypatch.setattr(schedule, "_name_anew", then)

    return happens


def codes(opened):
    return [task.tree.code for task in opened]


@pytest.mark.django_db(transaction=True)
def test_others_write_while_it_is_worked_out(three_trees, vera, meanwhile):
    orchard, saved = three_trees[0].orchard, []

    def save():
        with connection.cursor() as cursor:
            if connection.vendor == "sqlite":
                cursor.execute("PRAGMA busy_timeout = 200")
            else:
                cursor.execute("SET lock_timeout = 200")
        saved.append(
            observations.note_stage(
                orchard, bbch=65, seen_on=TODAY, by=vera, now=NOW, tree=three_trees[0]
            )
        )
        connections.close_all()

    def beside():
        other = threading.Thread(target=save)
        other.start()
        other.join()

    meanwhile(beside)
    assert len(care_plan.open_next(orchard, **WHEN)) == 3
    assert saved == list(StageNote.objects.all())


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("verb", ["note_stage_and_open", "note_event_and_open"])
def test_a_note_is_in_the_book_before_its_work_is_worked_out(
    three_trees, vera, monkeypatch, verb
):
    orchard, gather = three_trees[0].orchard, schedule.gather_context

    def gather_outside(*args, **more):
        assert not connection.in_atomic_block
        return gather(*args, **more)

    monkeypatch.setattr(schedule, "gather_context", gather_outside)
    noted = {"bbch": 65, "seen_on": TODAY}
    if verb == "note_event_and_open":
        noted = {"what": "staked", "happened_on": TODAY}
    _row, opened = getattr(observations, verb)(
        orchard, by=vera, tree=three_trees[0], **WHEN, **noted
    )
    assert len(opened) == 3


@pytest.mark.django_db
class TestOvertaken:
    def test_by_the_death_of_a_tree(self, three_trees, meanwhile):
        dead = Tree.objects.filter(code="A-2")
        meanwhile(lambda: dead.update(state="dead", died_on=TODAY))
        opened = care_plan.open_next(three_trees[0].orchard, **WHEN)
        assert codes(opened) == ["A-1", "A-3"]

    def test_by_a_move_of_a_tree(self, three_trees, meanwhile):
        spot = make_spot(three_trees[0].orchard, "99")
        meanwhile(lambda: Tree.objects.filter(code="A-2").update(spot=spot))
        opened = care_plan.open_next(three_trees[0].orchard, **WHEN)
        assert codes(opened) == ["A-1", "A-3"]

    def test_by_whoever_switched_the_job_off_or_set_it_anew(
        self, three_trees, meanwhile
    ):
        plans, orchard = CarePlan.objects.all(), three_trees[0].orchard
        meanwhile(lambda: plans.update(active=False, reason="Not here"))
        assert care_plan.open_next(orchard, **WHEN) == []
        plans.update(active=True, reason="")
        meanwhile(lambda: plans.update(set_at=NOW))
        assert care_plan.open_next(orchard, **WHEN) == []
        assert not Change.objects.filter(verb="open_next").exists()

    def test_by_whoever_asked_for_the_work_and_did_it(
        self, three_trees, lee, meanwhile
    ):
        orchard = three_trees[0].orchard

        def ask_and_do():
            asked = OneOff(job=JOB, due_on=TODAY)
            tasks.ask_for(orchard, asked, three_trees[:2], by=lee, **WHEN)
            task = Task.objects.get(kind="once", tree__code="A-2")
            tasks.close(task, by=lee, **WHEN)

        meanwhile(ask_and_do)
        assert codes(care_plan.open_next(orchard, **WHEN)) == ["A-3"]

    def test_what_is_closed_meanwhile_does_not_fall_away(
        self, three_trees, lee, monkeypatch
    ):
        orchard, why = three_trees[0].orchard, outgrown._why
        care_plan.open_next(orchard, **WHEN)
        orchard.trees.update(setting="container")

        def close_first(task, plan, job):
            if task.tree.code == "A-2":
                tasks.close(Task.objects.get(pk=task.pk), by=lee, **WHEN)
            return why(task, plan, job)

        monkeypatch.setattr(outgrown, "_why", close_first)
        fallen = care_plan.cancel_outgrown(orchard, **WHEN)
        assert codes(fallen) == ["A-1", "A-3"]
        assert Task.objects.get(tree__code="A-2").closures.get().how == "done"


@pytest.mark.django_db(transaction=True)
def test_many_are_written_in_turns_each_with_its_line(three_trees, monkeypatch):
    orchard, pauses = three_trees[0].orchard, []
    monkeypatch.setattr(batches, "AT_ONCE", 2)
    monkeypatch.setattr(batches, "sleep", pauses.append)
    assert codes(care_plan.open_next(orchard, **WHEN)) == ["A-1", "A-2", "A-3"]
    lines = Change.objects.filter(verb="open_next").order_by("pk")
    assert [line.after["opened"] for line in lines] == [2, 1]
    assert len(pauses) == (connection.vendor == "sqlite")


@pytest.mark.django_db
def test_a_note_stands_when_the_database_cannot_open_its_work(
    three_trees, vera, monkeypatch, caplog
):
    def busy(*_args, **_more):
        fault = sqlite3.OperationalError("database is locked")
        fault.sqlite_errorcode = sqlite3.SQLITE_BUSY
        raise OperationalError("database is locked") from fault

    orchard = three_trees[0].orchard
    monkeypatch.setattr(schedule, "gather_context", busy)
    row, opened = observations.note_stage_and_open(
        orchard, by=vera, bbch=65, seen_on=TODAY, tree=three_trees[0], **WHEN
    )
    assert (StageNote.objects.get(), opened) == (row, [])
    assert "wait for the night" in caplog.text
    monkeypatch.undo()
    tomorrow = {"now": NOW + timedelta(days=1), "today": TODAY + timedelta(days=1)}
    assert len(care_plan.open_next(orchard, **tomorrow)) == 3


@pytest.mark.django_db
def test_a_fault_of_ours_is_no_outage(three_trees, monkeypatch):
    def ours(*_args, **_more):
        raise KeyError("no such job")

    monkeypatch.setattr(schedule, "gather_context", ours)
    with pytest.raises(KeyError):
        care_plan.open_after(three_trees[0].orchard, **WHEN)
