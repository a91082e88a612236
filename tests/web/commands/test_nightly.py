"""The nightly command: what it says, in which day it thinks, how it fails."""

from __future__ import annotations

import os
import uuid
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from orchard.records.models import CarePlan, Task
from orchard.services import care_plan, photos
from orchard.services.errors import Refused
from orchard.services.guide_sync import bring_up_to_date
from orchard.web.management.commands import nightly
from tests.conftest import make_orchard, make_person, make_tree

pytestmark = pytest.mark.django_db
LATE_EVENING = datetime(2026, 5, 12, 23, 30, tzinfo=UTC)


@pytest.fixture(autouse=True)
def at_night(monkeypatch):
    monkeypatch.setattr(nightly.timezone, "now", lambda: LATE_EVENING)


def orchard_with_work(slug, **fields):
    orchard = make_orchard(slug, **fields)
    make_tree(orchard)
    bring_up_to_date(orchard, LATE_EVENING)
    cora = make_person(f"Cora-{slug}", orchard, "coordinator")
    off = {"active": False, "reason": "Not here", "set_by": cora}
    CarePlan.objects.exclude(job="weed_ring").update(**off)
    return orchard


def run(*arguments):
    said = StringIO()
    call_command("nightly", *arguments, stdout=said, stderr=said)
    return said.getvalue()


def test_it_says_what_it_opened_in_each_orchards_own_day():
    orchard_with_work("alderbrook")
    orchard_with_work("southbank", south=True)
    said = run()
    # Half past midnight in Lisbon, nine in the morning in Adelaide.
    assert "alderbrook, 2026-05-13: 1 opened: " in said
    assert "southbank, 2026-05-13: 1 opened: " in said
    assert "alderbrook, 2026-05-13: 0 opened" in run()
    assert Task.objects.count() == 2


def test_one_orchard_alone_can_be_asked_for():
    orchard_with_work("alderbrook")
    orchard_with_work("southbank", south=True)
    assert "southbank" not in run("--orchard", "alderbrook")
    with pytest.raises(CommandError, match="There is no orchard 'nowhere'"):
        run("--orchard", "nowhere")


def test_one_orchards_trouble_does_not_stop_the_others(monkeypatch):
    orchard_with_work("alderbrook")
    orchard_with_work("southbank", south=True)
    real = care_plan.open_next

    def open_next(orchard, **fields):
        if orchard.slug == "alderbrook":
            raise Refused("The guide knows no such job.", code="no_such_job")
        return real(orchard, **fields)

    monkeypatch.setattr(care_plan, "open_next", open_next)
    said = StringIO()
    with pytest.raises(CommandError, match="Failed for: alderbrook"):
        call_command("nightly", stdout=said, stderr=said)
    assert "alderbrook: The guide knows no such job." in said.getvalue()
    assert Task.objects.get().orchard.slug == "southbank"


def test_a_fault_of_one_orchard_leaves_its_trace_and_the_others_done(
    monkeypatch, caplog
):
    orchard_with_work("alderbrook")
    orchard_with_work("southbank", south=True)
    real = care_plan.open_next

    def open_next(orchard, **fields):
        if orchard.slug == "alderbrook":
            return {}["no such job"]
        return real(orchard, **fields)

    monkeypatch.setattr(care_plan, "open_next", open_next)
    with pytest.raises(CommandError, match="Failed for: alderbrook") as failure:
        call_command("nightly", stdout=StringIO())
    # What the process then leaves with.
    assert failure.value.returncode == 1
    [line] = [line for line in caplog.records if line.name == nightly.__name__]
    assert line.getMessage() == "The nightly work of alderbrook failed."
    assert line.levelname == "ERROR"
    assert "in open_next" in caplog.text
    assert "KeyError: 'no such job'" in caplog.text
    assert Task.objects.get().orchard.slug == "southbank"


def test_each_step_that_fails_leaves_its_trace_and_all_are_named_at_the_end(
    monkeypatch, caplog
):
    orchard_with_work("alderbrook")
    measured = []

    def fail(text):
        raise RuntimeError(text)

    def measure_old(most):
        measured.append(most)
        fail("no memory")

    monkeypatch.setattr(care_plan, "open_next", lambda *_args, **_more: fail("no plan"))
    monkeypatch.setattr(photos, "set_aside_abandoned", lambda before: fail("no disk"))
    monkeypatch.setattr(photos, "measure_old", measure_old)
    everything = "^Failed for: alderbrook, photo files, photo measures.$"
    with pytest.raises(CommandError, match=everything) as failure:
        call_command("nightly", stdout=StringIO())
    assert failure.value.returncode == 1
    assert len(measured) == 1
    lines = [line for line in caplog.records if line.name == nightly.__name__]
    assert [str(line.exc_info[1]) for line in lines] == [
        "no plan",
        "no disk",
        "no memory",
    ]


def test_a_step_that_fails_alone_fails_the_night_and_stops_no_other(
    monkeypatch, caplog
):
    orchard_with_work("alderbrook")

    def set_aside_abandoned(before):
        raise OSError("read-only")

    monkeypatch.setattr(photos, "set_aside_abandoned", set_aside_abandoned)
    monkeypatch.setattr(photos, "measure_old", lambda most: 3)
    printed = StringIO()
    with pytest.raises(CommandError, match="^Failed for: photo files.$"):
        call_command("nightly", stdout=printed)
    assert "1 opened" in printed.getvalue()
    assert "Photos measured: 3" in printed.getvalue()
    assert "OSError: read-only" in caplog.text
    # One orchard alone has nothing to do with the photos of all.
    run("--orchard", "alderbrook")


def test_what_the_guide_has_gained_is_taken_in_first():
    orchard = orchard_with_work("alderbrook")
    CarePlan.objects.filter(orchard=orchard, job="mulch").delete()
    said = run()
    assert CarePlan.objects.get(orchard=orchard, job="mulch").active
    assert "2 opened" in said


def test_what_a_tree_has_outgrown_falls_away_at_night():
    orchard = orchard_with_work("alderbrook")
    run()
    task = Task.objects.get(kind="care", key="weed_ring")
    orchard.trees.update(setting="container")
    assert "0 opened" in run()
    task.refresh_from_db()
    assert task.closed_at == LATE_EVENING


def test_old_files_that_are_no_photos_of_the_book_are_set_aside(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    orchard_with_work("alderbrook")
    name = uuid.uuid4()
    for days, is_set_aside in ((29, False), (31, True)):
        written = LATE_EVENING - timedelta(days=days)
        path = tmp_path / photos.path_of(name, "small")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
        os.utime(path.parent, (written.timestamp(), written.timestamp()))
        said = "Photo files that no record names, moved to photos/aside: 1\n"
        assert (said in run()) is is_set_aside
    assert not path.exists()
    assert not path.parent.exists()
