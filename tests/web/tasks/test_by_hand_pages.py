"""The pages of a one-off task: asked for, found on the board, withdrawn."""

from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.records.models import BulkChange, Closure, Task
from orchard.services.holds import holds_of
from orchard.services.tasks import close
from tests.conftest import NOW, TODAY, make_tree
from tests.services.tasks.test_by_hand import suspect
from tests.services.tasks.test_tasks import make_task
from tests.web.tasks.test_board_page import on_the_day as _on_the_day
from tests.web.tasks.test_board_page import text_of
from tests.web.test_who_may import make_one_off

pytestmark = pytest.mark.django_db
NEW = "/alderbrook/board/new/"
BOARD = "/alderbrook/board/"
SOON = TODAY + timedelta(days=3)
on_the_day = _on_the_day


def filled(**fields):
    return {
        "job": "", "title": "Paint the stakes", "where": "trees", "codes": "A-1",
        "block": "", "due_on": SOON.isoformat(), "to": "nobody", "steps": "",
        "evidence": "", "minutes": "", "work": "none", **fields,
    }  # fmt: skip


def test_a_task_is_added_and_stands_on_the_board_with_an_undo(
    as_cora, orchard, tree, vera
):
    make_tree(orchard, "B-1")
    make_tree(orchard, "B-2")
    data = filled(codes="a-1, B", to=str(vera.pk), minutes="10")
    page = as_cora.post(NEW, data, follow=True)
    said = text_of(page)
    assert page.redirect_chain[0][0] == BOARD
    assert "3 tasks added." in said
    assert "Paint the stakes 3 trees in A, B" in said
    assert "30 min Vera" in said
    change = BulkChange.objects.get()
    assert f"/board/undo/{change.pk}/" in page.content.decode()
    as_cora.post(f"{BOARD}undo/{change.pk}/")
    assert not Task.objects.open().exists()


def test_a_block_leaves_out_the_trees_a_job_is_not_for_and_a_code_means_its_tree(
    as_cora, orchard, tree
):
    make_tree(orchard, "A-2")
    make_tree(orchard, "A-3", setting="container", container_litres=60)
    asked = {"job": "water_pot", "title": "", "work": ""}
    data = filled(where="block", block="A", codes="", **asked)
    said = text_of(as_cora.post(NEW, data, follow=True))
    assert "1 task added." in said
    assert "Left: A-1, A-2 (the job isn't for it)" in said.replace("&#x27;", "'")
    assert [task.tree.code for task in Task.objects.all()] == ["A-3"]
    # Who names a tree means it.
    as_cora.post(NEW, filled(codes="A-1", **asked))
    assert sorted(task.tree.code for task in Task.objects.all()) == ["A-1", "A-3"]
    # Where it is for none, that is said beside the place, and nothing is lost.
    make_tree(orchard, "B-1")
    page = as_cora.post(NEW, {**data, "block": "B"})
    assert page.status_code == 422
    [fault] = page.context["form"].errors["where"]
    assert "is for: Containers. No tree there is such a one." in fault


def test_all_that_is_wrong_stands_beside_its_field_at_once(as_cora, tree):
    data = filled(
        title="", codes="A-1 Z-9, Q", due_on="2026-05-11", minutes="0", steps="Brush"
    )
    page = as_cora.post(NEW, data)
    assert page.status_code == 422
    form = page.context["form"]
    assert set(form.errors) == {"title", "codes", "due_on", "minutes"}
    assert "Z-9, Q" in form.errors["codes"][0]
    html = page.content.decode()
    for words in ("Choose a job, or write a title.", "11 May 2026 is in the past."):
        assert words in html
    # What was typed stays, and the fold with a fault in it is open.
    assert "Brush</textarea>" in html
    assert '<details class="fold" open>' in html
    assert not Task.objects.exists()


@pytest.mark.parametrize(
    ("fields", "wrong"),
    [
        ({"where": "block"}, "block"),
        ({"codes": " , "}, "codes"),
        ({"where": "shown"}, "where"),
        ({"to": "999999"}, "to"),
        ({"due_on": ""}, "due_on"),
        ({"job": "juggling"}, "job"),
    ],
)
def test_what_is_missing_or_unknown_is_said_once(as_cora, tree, fields, wrong):
    page = as_cora.post(NEW, filled(**fields))
    assert page.status_code == 422
    errors = page.context["form"].errors
    assert list(errors) == [wrong]
    assert len(errors[wrong]) == 1


def test_a_block_or_the_whole_orchard_is_one_task(as_cora, tree):
    as_cora.post(NEW, filled(where="block", block="A", codes=""))
    as_cora.post(NEW, filled(where="orchard", codes="", title="Sweep"))
    places = Task.objects.order_by("pk").values_list("block__code", "tree")
    assert list(places) == [("A", None), (None, None)]
    assert "Alderbrook" in text_of(as_cora.get(f"{BOARD}print/"))


def test_it_takes_the_trees_that_the_board_shows(as_cora, orchard, tree):
    make_task(tree, "skirt")
    make_task(make_tree(orchard, "B-1"), "skirt")
    make_task(make_tree(orchard, "B-2"), "sucker_round")
    at = "open=due-care-skirt"
    page = as_cora.post(NEW, {"at": at})
    assert page.status_code == 200
    form = page.context["form"]
    assert (form["codes"].value(), form["where"].value()) == ("A-1, B-1", "trees")
    # What the board shows by the time it is sent changes nothing.
    make_task(make_tree(orchard, "B-3"), "skirt")
    sent = as_cora.post(NEW, filled(codes=form["codes"].value(), at=at))
    assert sent.url.partition("#")[0] == f"{BOARD}?{at}"
    made = Task.objects.filter(kind="once").order_by("tree__code")
    assert [task.tree.code for task in made] == ["A-1", "B-1"]


def test_boxes_chosen_on_the_board_name_their_trees(as_cora, orchard, tree):
    make_task(tree, "skirt")
    chosen = make_task(make_tree(orchard, "B-1"), "skirt")
    page = as_cora.post(NEW, {"at": "", "task": [chosen.pk]})
    form = page.context["form"]
    assert (form["codes"].value(), form["where"].value()) == ("B-1", "trees")
    gone = as_cora.post(NEW, {"at": "", "task": ["999999"]}, follow=True)
    assert "No task is chosen." in text_of(gone)


def test_a_trees_own_page_leads_to_a_task_for_it(client, cora, vera, tree):
    client.force_login(cora)
    address = f"{NEW}?tree=A-1"
    assert address in client.get("/alderbrook/trees/A-1/").content.decode()
    assert client.get(address).context["form"]["codes"].value() == "A-1"
    client.force_login(vera)
    assert NEW not in client.get("/alderbrook/trees/A-1/").content.decode()
    assert NEW not in client.get(BOARD).content.decode()


def test_its_page_tells_what_to_do_and_who_asked(as_vera, orchard, tree, cora):
    [task] = make_one_off(
        orchard, [tree], by=cora, steps="Brush off dirt.\nPaint.", evidence="A photo."
    )
    page = as_vera.get(f"/alderbrook/tasks/{task.pk}/")
    said = text_of(page)
    for words in ("Brush off dirt.", "A photo.", "Asked for by Cora", "one-off"):
        assert words in said
    assert "withdrawal" not in page.content.decode()
    form = as_vera.get("/alderbrook/trees/A-1/inspections/new/").content.decode()
    assert f'name="task" value="{task.pk}"' in form


def test_its_maker_withdraws_it_at_some_trees_and_says_why(
    as_cora, orchard, tree, cora
):
    first, second = make_one_off(orchard, [tree, make_tree(orchard, "B-1")], by=cora)
    page = as_cora.get(f"/alderbrook/tasks/{first.pk}/").content.decode()
    url = f"/alderbrook/tasks/asked/{first.request_id}/withdrawal/"
    assert url in page
    wrong = as_cora.post(url, {"reason": ""})
    assert wrong.status_code == 422
    assert set(wrong.context["form"].errors) == {"tasks", "reason"}
    done = as_cora.post(url, {"tasks": [second.pk], "reason": "No paint"}, follow=True)
    assert "1 task withdrawn." in text_of(done)
    assert Closure.objects.get().task == second
    assert "This was cancelled. No paint" in text_of(
        as_cora.get(f"/alderbrook/tasks/{second.pk}/")
    )
    as_cora.post(url, {"tasks": [first.pk], "reason": "No paint"})
    assert "None of its tasks is open." in text_of(as_cora.get(url))


def test_closed_it_stands_in_the_list_by_its_title(as_vera, orchard, tree, cora):
    [task] = make_one_off(orchard, [tree], by=cora)
    as_vera.post(
        f"/alderbrook/tasks/{task.pk}/closure/",
        {"how": "done", "done-evidence": "Green", "done-done_on": TODAY.isoformat()},
    )
    said = text_of(as_vera.get("/alderbrook/board/closed/?job=once"))
    assert "A-1 Paint the stakes Done Green" in said
    assert "No closed task matches" in text_of(
        as_vera.get("/alderbrook/board/closed/?job=act")
    )


@pytest.mark.parametrize(
    "place", [{"where": "block", "block": "A"}, {"where": "trees"}]
)
def test_what_is_open_there_already_is_said_where_it_is_seen(as_cora, tree, place):
    """The field of codes is hidden while a block is chosen."""
    as_cora.post(NEW, filled(**place))
    page = as_cora.post(NEW, filled(**place))
    assert page.status_code == 422
    assert list(page.context["form"].errors) == ["where"]
    assert "This task is open there already." in text_of(page)


def test_more_trees_than_can_be_added_is_said_where_it_is_seen(
    as_cora, orchard, tree, monkeypatch
):
    make_tree(orchard, "A-2")
    monkeypatch.setattr("orchard.services.tasks.by_hand.MOST_AT_ONCE", 1)
    data = filled(where="orchard", codes="", job="skirt", title="")
    page = as_cora.post(NEW, data)
    assert list(page.context["form"].errors) == ["where"]
    assert not Task.objects.exists()


def test_a_job_of_another_place_is_said_with_all_else_that_is_wrong(as_cora, tree):
    data = filled(job="maturity", title="", due_on="2026-05-11")
    page = as_cora.post(NEW, data)
    assert set(page.context["form"].errors) == {"where", "due_on"}
    assert "Choose a block." in text_of(page)


def test_who_no_longer_leads_withdraws_nothing(client, orchard, tree, cora):
    [task] = make_one_off(orchard, [tree], by=cora)
    cora.memberships.update(role="office")
    client.force_login(cora)
    url = f"/alderbrook/tasks/asked/{task.request_id}/withdrawal/"
    assert url not in client.get(f"/alderbrook/tasks/{task.pk}/").content.decode()
    data = {"tasks": [task.pk], "reason": "No paint"}
    assert client.get(url).status_code == 403
    assert client.post(url, data).status_code == 403
    assert Task.objects.open().get() == task


def test_of_a_closed_job_the_list_shows_what_was_asked_for_too(
    as_cora, orchard, tree, cora
):
    by_hand = make_one_off(orchard, [tree], by=cora, job="skirt", title="")
    plans = make_task(make_tree(orchard, "B-1"), "skirt")
    other = make_one_off(orchard, [tree], by=cora)
    for task in (*by_hand, plans, *other):
        close(task, by=cora, now=NOW, today=TODAY, evidence="Cut")

    def shown(job):
        page = as_cora.get(f"/alderbrook/board/closed/?job={job}")
        return {row.number for row in page.context["shown"].rows}

    assert shown("care-skirt") == {by_hand[0].pk, plans.pk}
    assert shown("care") == {plans.pk}
    assert shown("once") == {by_hand[0].pk, other[0].pk}


def test_as_many_codes_fit_as_trees_can_be_asked_for_at_once(as_cora, tree):
    long = ", ".join(["A-1", *(f"A-{number:018}" for number in range(499))])
    page = as_cora.post(NEW, filled(codes=long))
    [fault] = page.context["form"].errors["codes"]
    assert "no block with one" in fault
    page = as_cora.post(NEW, filled(codes=long * 2))
    assert page.context["form"].errors["codes"] == [
        "Too many codes at once. Add the task block by block."
    ]


def test_a_title_of_ones_own_says_its_kind_of_work(as_cora, tree):
    page = as_cora.post(NEW, filled(work=""))
    assert page.context["form"].errors == {
        "work": ["Choose the kind of work, or none of these."]
    }
    before_fold = page.content.decode().partition('<details class="fold')[0]
    assert 'name="work"' in before_fold
    assert not Task.objects.exists()
    as_cora.post(NEW, filled(work="feeding"))
    as_cora.post(NEW, filled(title="Sweep", work="none"))
    as_cora.post(NEW, filled(title="", job="skirt", work=""))
    works = Task.objects.order_by("pk").values_list("request__work", flat=True)
    assert list(works) == ["feeding", "", ""]


def test_a_hold_is_said_at_work_of_no_known_kind(as_cora, orchard, tree, vera, cora):
    """On the board, on paper and on its page; it may go ahead all the same."""
    suspect(tree, vera)
    [reason] = {hold.reason for hold in holds_of(orchard, today=TODAY)[tree.pk]}
    [task] = make_one_off(orchard, [tree], by=cora)
    [line] = [
        line.group
        for band in as_cora.get(BOARD).context["bands"]
        for line in band.lines
        if line.group.name == "Paint the stakes"
    ]
    assert reason in text_of(as_cora.get(f"{BOARD}?open={line.key}"))
    assert "a hold: see the task" in text_of(as_cora.get(f"{BOARD}print/"))
    page = as_cora.get(f"/alderbrook/tasks/{task.pk}/")
    assert f"Before you start. {reason}" in text_of(page)
    assert page.context["row"].waits == ()
