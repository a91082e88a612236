"""The page of a paper sheet: one tree after another, person and day kept."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from orchard.records.models import (
    Closure,
    Harvest,
    Inspection,
    Membership,
    RipenessTest,
    Treatment,
)
from tests.conftest import NOW, TODAY, make_person
from tests.services.tasks.test_tasks import make_task
from tests.web.tasks.test_board_page import on_the_day as _on_the_day
from tests.web.tasks.test_board_page import text_of

pytestmark = pytest.mark.django_db
PAPER = "/alderbrook/paper/"
DAY = TODAY - timedelta(days=3)
on_the_day = _on_the_day


@pytest.fixture
def rosa(orchard):
    person = make_person("Rosa", orchard, "volunteer")
    Membership.objects.filter(user=person).update(joined_at=NOW - timedelta(days=30))
    return person


def filled(someone, **fields):
    return {
        "person": str(someone.pk), "day": DAY.isoformat(), "tree": "a-1",
        "condition": "", "note": "", "step": "well", **fields,
    }  # fmt: skip


def sheet(person, day=DAY):
    return f"for={person.pk}&on={day}"


def test_after_saving_the_form_stands_ready_for_the_next_tree(as_cora, tree, rosa):
    page = as_cora.post(PAPER, filled(rosa), follow=True)
    assert page.redirect_chain == [(f"{PAPER}?{sheet(rosa)}", 302)]
    form = page.context["form"]
    assert form["person"].value() == rosa.pk
    assert form["day"].value() == DAY
    assert not form["tree"].value()
    html = page.content.decode()
    assert 'name="tree"' in html.partition("autofocus")[0].rpartition("<input")[2]
    assert "A-1 is all well, seen by Rosa." in text_of(page)
    kept = Inspection.objects.get()
    assert (kept.all_well, kept.seen_on, kept.by) == (True, DAY, rosa)
    assert f"/inspections/{kept.pk}/withdrawal/?undo=1" in html


@pytest.mark.parametrize(
    ("fields", "kept"),
    [
        ({}, (True, None, "")),
        ({"condition": "4"}, (False, 4, "")),
        ({"condition": "1"}, (False, 1, "")),
        ({"note": "Thin on top"}, (False, None, "Thin on top")),
    ],
)
def test_the_return_key_saves_what_was_entered(as_cora, tree, rosa, fields, kept):
    html = as_cora.get(f"{PAPER}?{sheet(rosa)}").content.decode()
    form = html[html.index('<form class="form paper"') :]
    # Browsers press the first button of a form.
    first = form[form.index("<button") :].partition(">")[0]
    step = first.partition('value="')[2].partition('"')[0]
    as_cora.post(PAPER, filled(rosa, step=step, **fields))
    row = Inspection.objects.get()
    assert (row.all_well, row.condition, row.note) == kept


@pytest.mark.parametrize("fields", [{"condition": "2"}, {"note": "Thin on top"}])
def test_all_well_does_not_go_with_what_says_otherwise(as_cora, tree, rosa, fields):
    page = as_cora.post(PAPER, filled(rosa, **fields))
    assert page.status_code == 422
    assert (
        "All well doesn't go with a note" in page.context["form"].errors["__all__"][0]
    )
    for name, value in fields.items():
        assert page.context["form"][name].value() == value
    assert not Inspection.objects.exists()
    as_cora.post(PAPER, filled(rosa, condition="4"))
    assert Inspection.objects.get().all_well


def test_the_same_line_twice_is_kept_once_and_another_is_kept_too(as_cora, tree, rosa):
    shown = {"csrfmiddlewaretoken": "one-showing"}
    as_cora.post(PAPER, filled(rosa, **shown))
    again = as_cora.post(PAPER, filled(rosa, **shown), follow=True)
    assert "A-1 was saved for Rosa before. Nothing was added." in text_of(again)
    assert Inspection.objects.count() == 1
    more = filled(rosa, step="save", condition="2", note="Thin on top", **shown)
    saved = as_cora.post(PAPER, more, follow=True)
    assert "Saved A-1 for Rosa." in text_of(saved)
    assert Inspection.objects.filter(condition=2, note="Thin on top").count() == 1
    as_cora.post(PAPER, more | {"note": "Thin all over"})
    assert Inspection.objects.count() == 3


def test_condition_and_note_go_along_to_the_form_for_signs(as_cora, tree, rosa):
    data = filled(rosa, step="signs", condition="2", note="Thin & pale")
    answer = as_cora.post(PAPER, data)
    assert answer.status_code == 302
    page = as_cora.get(answer.url)
    assert page.context["typed"]["condition"] == "2"
    html = page.content.decode()
    assert "Thin &amp; pale</textarea>" in html
    [two] = [step for step in page.context["condition"] if step.checked]
    assert two.value == "2"
    long = as_cora.post(PAPER, data | {"note": "Blätter " * 400})
    assert long.status_code == 422
    assert "too long to take along" in long.context["form"].errors["note"][0]


@pytest.mark.parametrize("step", ["task", "test"])
@pytest.mark.parametrize("fields", [{"condition": "4"}, {"note": "Thin on top"}])
def test_condition_and_note_are_saved_before_a_task_or_test(
    as_cora, tree, rosa, step, fields
):
    page = as_cora.post(PAPER, filled(rosa, step=step, **fields))
    assert page.status_code == 422
    errors = page.context["form"].errors
    assert errors == {"__all__": ["Save the condition or note first."]}
    for name, value in fields.items():
        assert page.context["form"][name].value() == value


def test_all_that_is_wrong_is_said_at_once(as_cora, tree, rosa):
    data = filled(rosa, person="", day="2026-05-40", tree="Z-9", condition="7")
    page = as_cora.post(PAPER, data)
    assert page.status_code == 422
    assert set(page.context["form"].errors) == {"person", "day", "tree", "condition"}
    assert not Inspection.objects.exists()


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"day": "2026-05-13"}, "day", "in the future"),
        ({"day": "2026-03-01"}, "person", "Rosa only joined on 12 Apr 2026"),
        ({"tree": ""}, "tree", "Say which tree"),
        ({"step": "save"}, "__all__", "Nothing recorded yet"),
    ],
)
def test_what_cannot_be_stands_beside_its_field(
    as_cora, tree, rosa, fields, field, words
):
    page = as_cora.post(PAPER, filled(rosa, **fields))
    assert page.status_code == 422
    errors = page.context["form"].errors
    assert list(errors) == [field]
    assert words in errors[field][0]
    # What was typed stays.
    assert page.context["form"]["person"].value() == str(rosa.pk)


def test_a_condition_and_a_note_are_saved_without_all_well(as_cora, tree, rosa):
    data = filled(rosa, step="save", condition="2", note="Thin on top")
    as_cora.post(PAPER, data)
    kept = Inspection.objects.get()
    assert (kept.all_well, kept.condition, kept.note) == (False, 2, "Thin on top")


def test_signs_are_noted_on_the_trees_own_form_for_that_day(as_cora, tree, rosa):
    answer = as_cora.post(PAPER, filled(rosa, step="signs"))
    assert answer.url == f"/alderbrook/trees/A-1/inspections/new/?{sheet(rosa)}"
    page = as_cora.get(answer.url)
    html = page.content.decode()
    assert "You write this down for Rosa, 9 May 2026." in text_of(page)
    assert 'data-outbox="inspection"' not in html
    assert f'name="seen_day" max="{TODAY}"' in html
    assert f'value="{DAY}"' in html
    data = {
        "for": rosa.pk, "on": DAY.isoformat(), "seen_day": DAY.isoformat(),
        "sign": "leafminer", "leafminer:pct": "5", "step": "save", "units": "metric",
    }  # fmt: skip
    saved = as_cora.post(answer.url, data, follow=True)
    assert saved.redirect_chain[0][0] == f"{PAPER}?{sheet(rosa)}"
    assert "A-1 is saved." in text_of(saved)
    kept = Inspection.objects.get()
    assert (kept.by, kept.written_by.name, kept.seen_on) == (rosa, "Cora", DAY)
    told = "by Rosa, written down by you"
    shown = as_cora.get(f"/alderbrook/inspections/{kept.pk}/")
    assert told in text_of(shown).replace(" ,", ",")


def test_a_person_who_was_no_member_then_is_refused_on_that_form_too(
    as_cora, tree, rosa
):
    data = {
        "for": rosa.pk, "on": "2026-03-01", "seen_day": "2026-03-01",
        "all_well": "1", "step": "save", "units": "metric",
    }  # fmt: skip
    page = as_cora.post("/alderbrook/trees/A-1/inspections/new/", data)
    assert page.status_code == 422
    assert "Rosa only joined on 12 Apr 2026" in text_of(page)
    assert not Inspection.objects.exists()


def test_a_task_of_the_tree_is_closed_for_them(as_cora, tree, rosa):
    task = make_task(tree)
    answer = as_cora.post(PAPER, filled(rosa, step="task"), follow=True)
    url = f"/alderbrook/tasks/{task.pk}/closure/?{sheet(rosa)}"
    assert url.replace("&", "&amp;") in answer.content.decode()
    page = as_cora.get(url)
    assert page.context["done"]["done_on"].value() == DAY
    assert 'data-outbox="closure"' not in page.content.decode()
    data = {
        "for": rosa.pk, "on": DAY.isoformat(), "how": "done",
        "done-evidence": "Two taken off", "done-done_on": DAY.isoformat(),
    }  # fmt: skip
    saved = as_cora.post(url, data, follow=True)
    assert saved.redirect_chain[0][0] == f"{PAPER}?{sheet(rosa)}"
    closure = Closure.objects.get()
    assert (closure.by, closure.written_by.name) == (rosa, "Cora")
    for place in ("board/closed/", f"tasks/{task.pk}/", "trees/A-1/"):
        said = text_of(as_cora.get(f"/alderbrook/{place}")).replace(" ,", ",")
        assert "Rosa, written down by" in said


def test_a_task_is_skipped_for_them_on_their_day(as_cora, tree, rosa):
    task = make_task(tree)
    data = {
        "for": rosa.pk, "on": DAY.isoformat(), "how": "skipped", "skip-reason": "Rain"
    }  # fmt: skip
    as_cora.post(f"/alderbrook/tasks/{task.pk}/closure/", data)
    closure = Closure.objects.get()
    assert (closure.how, closure.by, closure.done_on) == ("skipped", rosa, DAY)


def test_a_ripeness_test_is_recorded_for_them(as_cora, tree, rosa):
    answer = as_cora.post(PAPER, filled(rosa, step="test"))
    page = as_cora.get(answer.url)
    assert page.context["form"]["tested_on"].value() == DAY
    assert page.context["form"]["tree"].value() == "A-1"
    data = {
        "for": rosa.pk, "on": DAY.isoformat(), "tree": "A-1", "units": "metric",
        "tested_on": DAY.isoformat(), "fruits": "5", "taste": "4", "tasters": "3",
    }  # fmt: skip
    saved = as_cora.post(answer.url, data, follow=True)
    assert saved.redirect_chain[0][0] == f"{PAPER}?{sheet(rosa)}"
    row = RipenessTest.objects.get()
    assert (row.by, row.written_by.name) == (rosa, "Cora")


def test_a_treatment_and_a_harvest_are_recorded_for_them(as_cora, tree, rosa):
    kinds = as_cora.post(PAPER, filled(rosa, step="treatment"), follow=True)
    new = f"/alderbrook/treatments/new/mulch/?{sheet(rosa)}&tree=A-1"
    assert new.replace("&", "&amp;") in kinds.content.decode()
    page = as_cora.get(new)
    assert "You write this down for Rosa" in text_of(page)
    assert "data-outbox" not in page.content.decode()
    form = page.context["form"]
    noon = datetime.combine(DAY, time(12), ZoneInfo("Europe/Lisbon"))
    assert (form.initial["ended_at"], form.initial["trees"]) == (noon, "A-1")
    along = {"for": rosa.pk, "on": DAY.isoformat()}
    saved = as_cora.post(
        new,
        {
            **along, "trees": "A-1", "ended_at": f"{DAY}T12:00",
            "product-TOTAL_FORMS": "0", "product-INITIAL_FORMS": "0",
        },
    )  # fmt: skip
    assert saved.url == f"{PAPER}?{sheet(rosa)}"
    row = Treatment.objects.get()
    assert (row.by, row.written_by.name, row.ended_at) == (rosa, "Cora", noon)

    form = as_cora.post(PAPER, filled(rosa, step="harvest"), follow=True)
    assert form.context["form"].initial["picked_at"] == noon
    picked = {
        **along, "trees": "A-1", "part": "fruit", "amount": "2", "unit": "kg",
        "picked_at": f"{DAY}T12:00",
    }  # fmt: skip
    saved = as_cora.post("/alderbrook/harvests/new/", picked)
    assert saved.url == f"{PAPER}?{sheet(rosa)}"
    lot = Harvest.objects.get()
    assert (lot.by, lot.written_by.name, lot.picked_at) == (rosa, "Cora", noon)


def test_no_open_task_is_said_in_words(as_cora, tree, rosa):
    page = as_cora.post(PAPER, filled(rosa, step="task"), follow=True)
    assert "No task is open on this tree." in text_of(page)


def test_a_volunteer_writes_for_nobody_on_any_form(client, vera, tree, rosa):
    client.force_login(vera)
    task = make_task(tree)
    for url in (
        PAPER,
        f"/alderbrook/trees/A-1/inspections/new/?{sheet(rosa)}",
        f"/alderbrook/tasks/{task.pk}/closure/?{sheet(rosa)}",
        f"/alderbrook/ripeness/tests/new/?{sheet(rosa)}",
        f"/alderbrook/treatments/new/mulch/?{sheet(rosa)}",
        f"/alderbrook/harvests/new/?{sheet(rosa)}",
    ):
        assert client.get(url).status_code in (403, 404), url
    posted = client.post(
        f"/alderbrook/tasks/{task.pk}/closure/",
        {"for": rosa.pk, "how": "skipped", "skip-reason": "Rain"},
    )
    assert posted.status_code == 403
    assert not Closure.objects.exists()


def test_a_damaged_address_asks_for_the_person_anew(as_cora, tree, otto):
    for query in ("for=x&on=y", "for=99999999999999999", "on=2026-99-99"):
        assert as_cora.get(f"{PAPER}?{query}").status_code == 200
    assert as_cora.get(f"{PAPER}?for={otto.pk}").status_code == 404
    assert as_cora.get(f"{PAPER}?tasks_of=A-1").status_code == 200


def test_who_has_left_can_still_have_seen_something(as_cora, tree, rosa):
    Membership.objects.filter(user=rosa).update(left_at=NOW - timedelta(days=1))
    page = as_cora.get(PAPER)
    assert "Rosa (has left)" in text_of(page)
    as_cora.post(PAPER, filled(rosa))
    assert Inspection.objects.get().by == rosa
