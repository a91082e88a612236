"""The page that moves a look, and what the page of a look tells of its way."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from orchard.records.models import Inspection
from orchard.services import inspections, tasks
from orchard.services.inspections import Arrival, SeenSign
from tests.conftest import NOW, TODAY, make_orchard, make_person, make_tree
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    from orchard.web import doorkeeper

    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: NOW)


@pytest.fixture
def trees(orchard):
    return [make_tree(orchard, f"A-{number}") for number in range(1, 11)]


def text_of(answer) -> str:
    return re.sub(r"\s+", " ", answer.content.decode())


def look(tree, by, **said):
    said = {"now": NOW, "seen_at": NOW, **(said or {"all_well": True})}
    return inspections.record(tree, by=by, **said).inspection


def page(client, seen) -> str:
    return text_of(client.get(f"/alderbrook/inspections/{seen.pk}/"))


def test_the_trees_beside_it_are_offered_first(as_vera, trees, vera):
    seen = look(trees[4], vera)
    assert f"/alderbrook/inspections/{seen.pk}/move/" in page(as_vera, seen)
    form = text_of(as_vera.get(f"/alderbrook/inspections/{seen.pk}/move/"))
    offered = re.findall(r'name="near" value="([\w-]+)"', form)
    assert offered == ["A-2", "A-3", "A-4", "A-6", "A-7", "A-8"]


def test_a_look_is_moved_and_both_pages_say_so(as_vera, trees, vera):
    task = make_task(trees[0])
    seen = look(trees[0], vera, note="Scale", done_tasks=[task.pk])
    said = {"near": "A-2", "tree": "", "reason": "The tag beside it"}
    answer = as_vera.post(f"/alderbrook/inspections/{seen.pk}/move/", said, follow=True)
    told = text_of(answer)
    assert "Moved to A-2; both trees show it." in told
    assert "1 task on A-1 is open again." in told
    assert "Moved here from A-1: The tag" in told
    assert "The tag beside it" in told
    old = page(as_vera, seen)
    assert "This look was moved to A-2." in old
    assert "Not this tree?" not in old
    new = Inspection.objects.current().get()
    assert f"/alderbrook/inspections/{new.pk}/" in old
    for code in ("A-1", "A-2"):
        tree = text_of(as_vera.get(f"/alderbrook/trees/{code}/"))
        assert "Inspection of 12 May 2026 moved" in tree
    assert as_vera.get(f"/alderbrook/inspections/{seen.pk}/move/").status_code == 302


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"tree": "Z-9", "reason": "x"}, "There is no tree Z-9 here."),
        ({"tree": "", "reason": "x"}, "Say which tree"),
        ({"tree": "A-1", "reason": "x"}, "It is on A-1 already."),
        ({"tree": "A-2", "reason": " "}, "Say why"),
        ({"near": "Z-1", "reason": "x"}, "Fix the marked fields"),
    ],
)
def test_what_cannot_be_moved_stays_with_what_was_typed(
    as_vera, trees, vera, said, told
):
    make_tree(make_orchard("far"), "Z-9")
    seen = look(trees[0], vera)
    answer = as_vera.post(f"/alderbrook/inspections/{seen.pk}/move/", said)
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert Inspection.objects.current().get() == seen


def test_a_case_that_stays_is_told(as_vera, trees, vera):
    seen = look(trees[0], vera, findings=[SeenSign("psyllid_nymph", {"count": 2})])
    said = {"tree": "A-3", "reason": "The tag beside it"}
    answer = as_vera.post(f"/alderbrook/inspections/{seen.pk}/move/", said, follow=True)
    assert "The case on A-1 stays open" in text_of(answer)


def test_anothers_look_is_not_offered_to_be_moved(client, trees, vera, orchard):
    seen = look(trees[0], vera)
    client.force_login(make_person("Victor", orchard, "volunteer"))
    assert "Not this tree?" not in page(client, seen)
    assert client.get(f"/alderbrook/inspections/{seen.pk}/move/").status_code == 403


def test_the_form_offers_the_way_out_before_anything_is_saved(as_vera, trees):
    form = as_vera.get("/alderbrook/trees/A-1/inspections/new/")
    assert "Not this tree?" in text_of(form)


def test_work_somebody_else_had_done_is_told_on_the_look(as_vera, trees, vera, lee):
    task = make_task(trees[0])
    tasks.close(task, by=lee, now=NOW, today=TODAY)
    seen = look(trees[0], vera, note="x", done_tasks=[task.pk])
    told = page(as_vera, seen)
    assert "Already done by somebody else" in told
    assert "Sucker round: already done by Lee, 12 May 2026" in told
    tree = text_of(as_vera.get("/alderbrook/trees/A-1/"))
    assert "Sucker round: already done by Lee, 12 May 2026" in tree


def test_it_is_still_told_after_a_correction(as_vera, trees, vera, lee):
    task = make_task(trees[0])
    tasks.close(task, by=lee, now=NOW, today=TODAY)
    seen = look(trees[0], vera, note="x", done_tasks=[task.pk])
    new = inspections.correct(seen, by=vera, now=NOW, reason="Typed wrong", note="y")
    assert "already done by Lee" in page(as_vera, new.inspection)


@pytest.mark.parametrize(
    ("seconds", "told"),
    [
        (0, ""),
        (300, ""),
        (-300, ""),
        (301, "clock was 5 minutes slow."),
        (-840, "clock was 14 minutes fast."),
        (7200, "clock was 2 hours slow."),
        (-86400, "clock was 24 hours fast."),
    ],
)
def test_both_times_are_shown_when_the_phones_clock_was_far_off(
    as_vera, trees, vera, seconds, told
):
    said_at = NOW - timedelta(days=2, seconds=seconds)
    seen = inspections.record(
        trees[0], by=vera, now=NOW, seen_at=NOW - timedelta(days=2), made_at=said_at,
        all_well=True, arrival=Arrival(offset_seconds=seconds),
    ).inspection  # fmt: skip
    shown = page(as_vera, seen)
    assert told in shown
    assert ("It said" in shown) == bool(told)
    if told:
        assert f'datetime="{said_at.isoformat()}"' in shown


def test_a_look_entered_days_later_says_so_by_the_orchards_own_days(client):
    # In Adelaide the morning of the 12th is still the 11th by UTC.
    southern = make_orchard("south", south=True)
    vic = make_person("Vic", southern, "volunteer")
    tree = make_tree(southern, "A-1")
    client.force_login(vic)
    morning = NOW.replace(hour=0)
    for days in (0, 6):
        seen = inspections.record(
            tree, by=vic, now=morning + timedelta(days=days), all_well=True,
            seen_at=morning - timedelta(hours=1),
        ).inspection  # fmt: skip
        told = text_of(client.get(f"/south/inspections/{seen.pk}/"))
        assert ("logged 6 days later" in told) == (days == 6)
        assert "day later" not in told


def test_a_second_look_says_that_two_people_differ(as_cora, client, trees, vera, lee):
    look(trees[0], vera, findings=[SeenSign("leafminer", {"pct": 5})])
    seen = look(trees[0], lee, findings=[SeenSign("leafminer", {"pct": 40})])
    for address in ("second-looks/", f"inspections/{seen.pk}/"):
        told = text_of(as_cora.get(f"/alderbrook/{address}"))
        assert "Two people differ more than twofold within the hour" in told
