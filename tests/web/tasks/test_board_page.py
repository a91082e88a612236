"""The board as a page: lines, filters, many tasks at once, for every role."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from orchard.records.models import BulkChange, Closure, Photo, Task
from tests.conftest import TODAY, make_tree
from tests.services.photos.test_photos import file
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db
BOARD = "/alderbrook/board/"


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    from orchard.web import doorkeeper
    from tests.conftest import NOW

    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: NOW)


def text_of(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", answer.content.decode()))


def test_a_line_says_what_where_when_how_long_and_who(as_vera, orchard, tree, lee):
    make_task(tree, "skirt", title="Raise the skirt", taken_by=lee)
    make_task(make_tree(orchard, "B-1"), "skirt", due_on=TODAY, taken_by=lee)
    said = text_of(as_vera.get(BOARD))
    assert "Raise the skirt" in said
    for words in ("2 trees in A, B", "2 days late", "min", "Lee", "Late and due soon"):
        assert words in said
    assert as_vera.get(BOARD).content.decode().count("<h1") == 1


def test_a_line_opens_to_its_trees_and_closes_again(as_vera, orchard, tree):
    task = make_task(tree, because="The root takes over.")
    other = make_task(make_tree(orchard, "B-1"), because="The root takes over.")
    shut = as_vera.get(BOARD).content.decode()
    assert "A-1" not in shut
    assert 'aria-expanded="false"' in shut
    page = as_vera.get(f"{BOARD}?open=due-care-sucker_round&block=A")
    said = page.content.decode()
    assert f'id="task-{task.pk}"' in said
    assert f'id="task-{other.pk}"' not in said
    assert "The root takes over." in said
    assert 'aria-expanded="true"' in said
    [line] = page.context["bands"][0].lines
    assert line.url == f"{BOARD}?block=A"


def test_an_empty_board_says_how_work_gets_there(as_vera):
    assert "No open tasks." in text_of(as_vera.get(BOARD))
    assert "No open task matches" in text_of(as_vera.get(f"{BOARD}?late=on"))


def test_htmx_gets_the_lines_alone_and_the_address_works_without(as_vera, tree):
    make_task(tree)
    address = f"{BOARD}?block=A&person=nobody&kind=care&late=on"
    whole = as_vera.get(address)
    part = as_vera.get(address, headers={"HX-Request": "true"})
    for answer in (whole, part):
        assert "sucker" in answer.content.decode()
    assert "<h1" in whole.content.decode()
    assert "<h1" not in part.content.decode()
    assert "HX-Request" in whole["Vary"]


def test_what_makes_no_sense_in_an_address_is_left_out(as_vera, tree):
    make_task(tree)
    query = "person=x'--&kind=juggling&late=perhaps&after=%00&open=due-%00&block=%00"
    assert "1 tree in A" in text_of(as_vera.get(f"{BOARD}?{query}"))


def test_later_tasks_unfold_by_an_address(as_vera, tree):
    make_task(tree, due_on=TODAY + timedelta(days=40))
    page = as_vera.get(f"{BOARD}?late=on")
    assert page.context["later_url"] == f"{BOARD}?late=on&later=on"
    assert "1 tree in A" not in text_of(as_vera.get(BOARD))
    assert "1 tree in A" in text_of(as_vera.get(f"{BOARD}?later=on"))


def test_hours_of_work_stand_beside_the_hours_of_the_crew(as_cora, as_vera, orchard):
    for number in range(30):
        make_task(make_tree(orchard, f"B-{number}"), "skirt")
    assert "Crew hours: not set" in text_of(as_cora.get(BOARD))
    orchard.crew_hours = 12
    orchard.save()
    said = text_of(as_cora.get(BOARD))
    assert re.search(
        r"About \d+ h of work this week\. The crew gives 12 h a week\.", said
    )
    assert "The crew gives" not in text_of(as_cora.get(f"{BOARD}?block=B"))


def test_those_who_do_not_work_see_no_boxes(client, olga, tree):
    make_task(tree)
    client.force_login(olga)
    page = client.get(f"{BOARD}?open=due-care-sucker_round").content.decode()
    assert "A-1" in page
    assert 'type="checkbox" name="task"' not in page
    assert "board/done/" not in page


def test_a_volunteer_hands_nothing_over(client, vera, lee, tree):
    make_task(tree)
    for person, shows in ((vera, False), (lee, True)):
        client.force_login(person)
        page = client.get(BOARD).content.decode()
        assert ("board/handing/" in page) is shows
        assert ("board/moving/" in page) is shows


def test_a_private_report_is_no_line_for_a_volunteer(client, vera, lee, tree):
    make_task(tree, "psyllid_nymph", kind="report", private=True, title="Hush", rank=0)
    for person, shows in ((vera, False), (lee, True)):
        client.force_login(person)
        said = text_of(client.get(BOARD))
        assert ("Report the suspicion" in said) is shows


def many(client, deed, **data):
    return client.post(f"{BOARD}{deed}/", data)


def test_a_line_is_taken_and_the_board_stands_where_it_was(
    as_vera, orchard, vera, tree
):
    rows = [make_task(tree), make_task(make_tree(orchard, "B-1"))]
    at = "block=A&later=on&open=due-care-sucker_round"
    sent = many(as_vera, "taking", group="due-care-sucker_round", at=at)
    assert sent.url == f"{BOARD}?{at}#group-due-care-sucker_round"
    assert [Task.objects.get(pk=row.pk).taken_by for row in rows] == [vera, None]
    said = as_vera.get(sent.url)
    assert "1 task taken." in text_of(said)
    [notice] = said.context["notices"]
    undone = as_vera.post(notice.undo_url)
    assert undone.url == sent.url
    assert Task.objects.get(pk=rows[0].pk).taken_by is None


def test_chosen_tasks_are_named_then_closed_with_one_evidence(as_vera, orchard, tree):
    rows = [make_task(tree), make_task(make_tree(orchard, "B-1"))]
    asked = many(as_vera, "done", band="due", at="late=on")
    assert asked.status_code == 200
    assert "2 tasks are chosen." in text_of(asked)
    assert "A-1" in text_of(asked)
    named = asked.context["named"]
    third = make_task(make_tree(orchard, "B-2"))
    sent = many(
        as_vera, "done", named=named, at="late=on", evidence="4 off", done_on=TODAY
    )
    assert sent.url == f"{BOARD}?late=on"
    assert "2 tasks closed." in text_of(as_vera.get(sent.url))
    assert set(Closure.objects.values_list("task", "evidence")) == {
        (row.pk, "4 off") for row in rows
    }
    assert Task.objects.open().get() == third


def test_chosen_tasks_are_closed_with_one_photo(
    as_vera, orchard, tree, settings, tmp_path
):
    settings.MEDIA_ROOT = tmp_path / "photos"
    rows = [make_task(tree), make_task(make_tree(orchard, "B-1"))]
    asked = many(as_vera, "done", band="due", at="late=on")
    assert 'enctype="multipart/form-data"' in asked.content.decode()
    said = {"named": asked.context["named"], "at": "late=on", "done_on": TODAY}
    broken = SimpleUploadedFile("x.jpg", b"no picture", "image/jpeg")
    refused = many(as_vera, "done", **said, evidence="4 off", photo=broken)
    assert refused.status_code == 422
    assert "4 off" in refused.content.decode()
    assert not Closure.objects.exists()
    photo = SimpleUploadedFile("a.jpg", file().getvalue(), "image/jpeg")
    many(as_vera, "done", **said, evidence="4 off", photo=photo)
    kept = Photo.objects.get()
    assert {closure.task for closure in kept.closures.all()} == set(rows)
    for row in rows:
        page = as_vera.get(f"/alderbrook/tasks/{row.pk}/").content.decode()
        assert str(kept.name) in page
    said = text_of(as_vera.get(f"/alderbrook/photos/{kept.name}/"))
    assert "Evidence for Sucker round, A-1 Sucker round, B-1" in said


def test_a_skip_without_a_reason_is_sent_back_with_the_tasks_named(as_vera, tree):
    task = make_task(tree)
    sent = many(as_vera, "skipping", named=str(task.pk), at="", reason="")
    assert sent.status_code == 422
    assert sent.context["named"] == str(task.pk)
    sent = many(as_vera, "skipping", named=str(task.pk), at="", reason="Too wet")
    assert sent.status_code == 302
    assert Closure.objects.get().reason == "Too wet"


def test_a_lead_hands_over_and_moves_the_day(client, lee, vera, tree):
    task = make_task(tree)
    client.force_login(lee)
    asked = many(client, "handing", task=task.pk)
    assert "Vera" in text_of(asked)
    many(client, "handing", named=str(task.pk), to=str(vera.pk))
    friday = TODAY + timedelta(days=3)
    many(client, "moving", named=str(task.pk), due_on=friday.isoformat())
    task.refresh_from_db()
    assert (task.taken_by, task.due_on) == (vera, friday)
    past = many(client, "moving", named=str(task.pk), due_on="2020-01-01")
    assert past.status_code == 422
    assert "in the past" in text_of(past)


def test_what_is_left_is_said_with_its_reason(as_vera, tree):
    water, sucker = make_task(tree, "water_new"), make_task(tree)
    named = f"{water.pk},{sucker.pk},nonsense,{10**30}"
    sent = many(as_vera, "done", named=named, done_on=TODAY)
    said = text_of(as_vera.get(sent.url))
    assert "1 task closed. Left: A-1 (its result is entered on its own page)." in said
    sent = many(as_vera, "done", named=str(water.pk), done_on=TODAY)
    assert "Nothing was changed. Left: A-1" in text_of(as_vera.get(sent.url))


def test_nothing_chosen_is_said_on_the_board(as_vera, tree):
    make_task(tree)
    sent = many(as_vera, "done", at="block=A")
    assert sent.url == f"{BOARD}?block=A"
    assert "No task is chosen." in text_of(as_vera.get(sent.url))


def test_only_who_did_it_undoes_it(as_vera, client, lee, tree):
    make_task(tree)
    many(as_vera, "taking", band="due")
    change = BulkChange.objects.get()
    client.force_login(lee)
    assert client.post(f"{BOARD}undo/{change.pk}/").status_code == 404


def test_a_task_opened_from_the_board_leads_back_to_its_place(as_vera, tree):
    task = make_task(tree)
    at = "block=A&open=due-care-sucker_round"
    page = as_vera.get(f"{BOARD}?{at}").content.decode()
    link = re.search(rf'href="(/alderbrook/tasks/{task.pk}/[^"]+)"', page)[1]
    shown = as_vera.get(link.replace("&amp;", "&"))
    place = f"{BOARD}?{at}#group-due-care-sucker_round"
    assert shown.context["board_url"] == place
    data = {"how": "done", "done-done_on": TODAY, "back": "board", "at": at}
    sent = as_vera.post(f"/alderbrook/tasks/{task.pk}/closure/", data)
    assert sent.url == place


def test_closed_tasks_are_a_page_with_filters_in_the_address(
    as_vera, orchard, tree, vera
):
    for plant, key in ((tree, "skirt"), (make_tree(orchard, "B-1"), "sucker_round")):
        task = make_task(plant, key)
        many(as_vera, "done", named=str(task.pk), evidence="By hand", done_on=TODAY)
    page = as_vera.get(f"{BOARD}closed/")
    assert "2 tasks" in text_of(page)
    assert "By hand" in text_of(page)
    query = f"job=care-skirt&block=A&who=mine&how=done&since={TODAY}&until={TODAY}"
    page = as_vera.get(f"{BOARD}closed/?{query}")
    assert [row.place for row in page.context["shown"].rows] == ["A-1"]
    nonsense = "job=x&block=%00&who=99999999999999999999&how=1&since=perhaps&after=1.2"
    page = as_vera.get(f"{BOARD}closed/?{nonsense}")
    assert [row.place for row in page.context["shown"].rows] == ["B-1", "A-1"]
    late = TODAY + timedelta(days=1)
    page = as_vera.get(f"{BOARD}closed/?since={late}")
    assert "No closed task matches" in text_of(page)


def test_a_printed_board_names_block_day_and_places_with_boxes(
    as_vera, orchard, tree, lee
):
    make_task(tree, "skirt", title="Raise the skirt", taken_by=lee)
    make_task(make_tree(orchard, "B-1"), "skirt", title="Raise the skirt")
    page = as_vera.get(f"{BOARD}print/?block=A")
    said = text_of(page)
    for words in ("A Block A", "Tue 12 May 2026", "A-1", "Raise the skirt", "Lee"):
        assert words in said
    assert "B-1" not in said
    assert page.content.decode().count('class="box"') == 1
    assert page.context["back_url"] == f"{BOARD}?block=A"
