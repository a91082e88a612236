"""Pages of a task and of the care plan: every form works as a plain form."""

from __future__ import annotations

from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from orchard.records.models import CarePlan, Orchard, Photo, Task, Watering
from orchard.services import tasks
from tests.conftest import NOW, TODAY, make_tree
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    from orchard.web import doorkeeper

    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: NOW)


@pytest.fixture
def task(tree):
    return make_task(tree, caution="Thorns.", because="The root takes over.")


def address(task, tail=""):
    return f"/alderbrook/tasks/{task.pk}/{tail}"


def picture():
    file = BytesIO()
    Image.new("RGB", (300, 200), "green").save(file, "JPEG")
    return SimpleUploadedFile("done.jpg", file.getvalue(), "image/jpeg")


def done(**fields):
    values = {"how": "done", "done-evidence": "", "done-done_on": TODAY.isoformat()}
    return {**values, **fields}


def test_the_page_of_a_task_says_all_one_needs(as_vera, task):
    page = as_vera.get(address(task)).content.decode()
    for said in (
        "A-1: Sucker round",
        "The root takes over.",
        "Thorns.",
        "The product label, local rules and licensed practice come first.",
        "2 days late",
        "unassigned",
    ):
        assert said in page
    assert page.count("<h1") == 1


def test_work_is_closed_with_words_and_photo_and_can_be_undone(as_vera, task):
    page = as_vera.get(address(task, "closure/")).content.decode()
    assert "Thorns." in page
    assert "licensed practice come first" in page

    said = {"done-evidence": "4 off", "done-photo": picture(), "back": "board"}
    answer = as_vera.post(address(task, "closure/"), done(**said), follow=True)

    assert answer.redirect_chain[-1][0] == "/alderbrook/board/"
    assert address(task, "reopening/?back=board") in answer.content.decode()
    closure = task.closures.get()
    assert closure.evidence == "4 off"
    assert Photo.objects.get().closures.get() == closure
    page = as_vera.get(address(task)).content.decode()
    assert "This is done." in page
    assert "without evidence" not in page
    as_vera.post(address(task, "reopening/?back=board"))
    task.refresh_from_db()
    assert task.closed_at is None
    assert "Opened again" in as_vera.get(address(task)).content.decode()


def test_work_without_evidence_reads_done_unproven(as_vera, task):
    answer = as_vera.post(address(task, "closure/"), done(), follow=True)
    assert "This is done, without evidence." in answer.content.decode()


def test_what_is_wrong_with_a_closure_is_said_beside_what_was_typed(as_vera, task):
    tomorrow = (TODAY + timedelta(days=1)).isoformat()
    said = {"done-evidence": "Four off", "done-done_on": tomorrow}
    answer = as_vera.post(address(task, "closure/"), done(**said))
    assert answer.status_code == 422
    assert "in the future" in answer.content.decode()
    assert "Four off" in answer.content.decode()
    file = SimpleUploadedFile("x.jpg", b"no picture", "image/jpeg")
    answer = as_vera.post(address(task, "closure/"), done(**{"done-photo": file}))
    assert answer.status_code == 422
    assert not task.closures.exists()


def test_a_cut_test_asks_for_its_numbers_and_says_whether_it_passed(as_vera, tree):
    # A tenth of at least ten fruit fails it: common practice, no source.
    task = make_task(tree, "frost_fruit_cut")
    page = as_vera.get(address(task, "closure/")).content.decode()
    assert "Fruit cut" in page and "with ice in them, or dry" in page
    few = {"done-fruit_cut": "6", "done-fruit_spoilt": "0", "done-evidence": "Sound"}
    answer = as_vera.post(address(task, "closure/"), done(**few))
    assert answer.status_code == 422
    assert "Cut at least 10 fruit" in answer.content.decode()
    assert "Sound" in answer.content.decode()
    said = {"done-fruit_cut": "10", "done-fruit_spoilt": "2", "done-evidence": "Pale"}
    answer = as_vera.post(address(task, "closure/"), done(**said), follow=True)
    assert "Failed: 2 of 10 frozen or dry. Pale" in answer.content.decode()
    # On the form of an inspection it is no mere tick.
    make_task(tree, "frost_fruit_cut", occurrence="again", title="Cut fruit open")
    form = as_vera.get(f"/alderbrook/trees/{tree.code}/inspections/new/")
    assert "Cut fruit open" not in form.content.decode()


def test_work_is_left_undone_with_a_reason_only(as_vera, task):
    answer = as_vera.post(address(task, "closure/"), {"how": "skipped"})
    assert answer.status_code == 422
    assert "Say why it is skipped" in answer.content.decode()
    said = {"how": "skipped", "skip-reason": "Wasp nest"}
    page = as_vera.post(address(task, "closure/"), said, follow=True).content.decode()
    assert "This was skipped." in page
    assert "Wasp nest" in page


def test_two_people_reach_for_the_same_work(client, task, vera, lee):
    client.force_login(vera)
    page = client.post(address(task, "taking/"), follow=True).content.decode()
    assert "You have it now" in page
    client.force_login(lee)
    answer = client.post(address(task, "taking/"))
    assert answer.status_code == 422
    assert "Vera has this already" in answer.content.decode()
    client.force_login(vera)
    client.post(address(task, "taking/?give=back"))
    task.refresh_from_db()
    assert task.taken_by is None


def test_those_who_lead_hand_work_over(client, task, vera, lee, olga):
    client.force_login(vera)
    assert client.post(address(task, "handing/"), {"to": lee.pk}).status_code == 403
    client.force_login(lee)
    assert "<h2>Assign</h2>" in client.get(address(task)).content.decode()
    client.post(address(task, "handing/"), {"to": vera.pk})
    task.refresh_from_db()
    assert task.taken_by == vera
    assert client.post(address(task, "handing/"), {"to": olga.pk}).status_code == 422
    client.post(address(task, "handing/"), {"to": "nobody"})
    task.refresh_from_db()
    assert task.taken_by is None


def test_closing_twice_and_opening_the_open_are_told_in_words(as_vera, task, vera):
    answer = as_vera.post(address(task, "reopening/"))
    assert answer.status_code == 422
    assert "nothing to undo" in answer.content.decode()
    tasks.close(task, by=vera, now=NOW, today=TODAY)
    answer = as_vera.post(address(task, "closure/"), done())
    assert answer.status_code == 422
    assert "has done this already" in answer.content.decode()


def test_the_office_reads_but_does_not_close(client, olga, task, otto):
    client.force_login(olga)
    assert client.get(address(task)).status_code == 200
    assert client.get(address(task, "closure/")).status_code == 403
    client.force_login(otto)
    assert client.get(address(task)).status_code == 404


def test_a_private_task_is_not_there_for_a_volunteer(as_vera, tree):
    task = make_task(tree, "psyllid_nymph", kind="report", private=True)
    for tail in ("", "closure/"):
        assert as_vera.get(address(task, tail)).status_code == 404
    for tail in ("closure/", "taking/", "reopening/"):
        assert as_vera.post(address(task, tail)).status_code == 404


def test_the_care_plan_is_read_and_set_by_the_coordinator(client, cora, vera, orchard):
    make_tree(orchard)
    CarePlan.objects.create(orchard=orchard, job="sucker_round", set_at=NOW)
    off = {"job": "mulch", "active": False, "reason": "Nobody has mulch"}
    CarePlan.objects.create(orchard=orchard, set_at=NOW, **off)
    client.force_login(cora)
    page = client.get("/alderbrook/care/").content.decode()
    assert "Every 60 days." in page
    assert "Nobody has mulch" in page
    page = client.get("/alderbrook/care/mulch/").content.decode()
    assert "1 May to 15 Jun" in page
    answer = client.post("/alderbrook/care/mulch/", {"active": "yes", "reason": ""})
    assert answer.status_code == 422
    assert "Say why" in answer.content.decode()
    said = {
        "active": "yes",
        "reason": "A load came",
        "window_from_day": "15",
        "window_from_month": "11",
    }
    answer = client.post("/alderbrook/care/mulch/", said)
    assert answer.status_code == 422
    assert "Give both ends of the window, or neither." in answer.content.decode()
    said |= {"window_to_day": "15", "window_to_month": "2"}
    assert client.post("/alderbrook/care/mulch/", said).status_code == 302
    plan = CarePlan.objects.get(job="mulch")
    assert (plan.active, plan.window, plan.set_by) == (True, "SM9-15..SM12-15", cora)
    page = client.get("/alderbrook/care/mulch/").content.decode()
    assert 'name="window_from_day" value="15"' in page
    assert '<option value="11" selected>November</option>' in page
    client.force_login(vera)
    assert client.get("/alderbrook/care/").status_code == 403
    page = client.get("/alderbrook/care/mulch/").content.decode()
    assert "Set it for this orchard" not in page
    assert client.post("/alderbrook/care/mulch/", said).status_code == 403
    assert client.get("/alderbrook/care/juggling/").status_code == 404


def test_a_job_that_no_tree_needs_says_so_in_words(client, cora, orchard):
    make_tree(orchard)
    for job in ("sucker_round", "fruitlets_off", "thin_other_fruit"):
        CarePlan.objects.create(orchard=orchard, job=job, set_at=NOW)
    client.force_login(cora)
    page = client.get("/alderbrook/care/").content.decode()
    assert "For 0" not in page
    assert page.count("No tree here needs it now.") == 2
    assert "For 1 tree." in page
    assert "They take less than 10 hours a year" in page
    assert "about 0 hours" not in page


def test_a_southern_orchard_reads_its_own_months(client, otto, southbank):
    CarePlan.objects.create(
        orchard=southbank, job="gall_prune", set_at=NOW, set_by=otto
    )
    client.force_login(otto)
    for page in ("care/", "care/gall_prune/"):
        said = client.get(f"/southbank/{page}").content.decode()
        assert "15 Feb to 15 Aug" in said
        assert "15 Aug to 15 Feb" not in said


def test_a_task_about_a_sign_shows_its_steps(as_vera, tree):
    task = make_task(tree, "sucker", kind="act", title="Rootstock sucker.")
    assert Task.objects.get() == task
    page = as_vera.get(address(task)).content.decode()
    assert "What to do" in page
    assert "t leave a stub." in page


def test_watering_is_closed_with_litres_in_the_orchards_units(as_vera, tree):
    Orchard.objects.update(units="us")
    task = make_task(tree, key="water_ground")
    page = as_vera.get(address(task, "closure/")).content.decode()
    assert "Water for each tree, gal" in page
    as_vera.post(address(task, "closure/"), done(**{"done-litres": "10"}))
    assert Watering.objects.get().litres == pytest.approx(37.85, abs=0.01)
    assert task.closures.get().how == "done"


def test_refused_litres_stand_beside_their_field(as_vera, tree, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    task = make_task(tree, key="water_ground")
    sent = done(**{"done-litres": "9000", "done-photo": picture()})
    answer = as_vera.post(address(task, "closure/"), sent)
    assert answer.status_code == 422
    said = "Enter the water for one tree: above 0, up to 5000 L."
    assert said in answer.content.decode()
    assert not task.closures.exists()
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


def test_other_work_asks_for_no_litres(as_vera, task):
    page = as_vera.get(address(task, "closure/")).content.decode()
    assert "done-litres" not in page
