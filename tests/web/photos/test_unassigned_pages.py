"""The tray of photos without a tree: brought, given their tree, taken out."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from orchard.records.models import Photo
from orchard.services import inspections
from tests.conftest import NOW, make_tree
from tests.services.photos.test_photos import file as a_photo
from tests.services.photos.test_photos import image

pytestmark = pytest.mark.django_db
STRAYS = "/alderbrook/strays/"


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch, settings, tmp_path):
    from orchard.web import doorkeeper

    settings.MEDIA_ROOT = tmp_path / "photos"
    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: NOW)


def upload(width=300):
    content = a_photo(made=image(width, 200)).getvalue()
    return SimpleUploadedFile("leaf.jpg", content, "image/jpeg")


def text_of(answer) -> str:
    return re.sub(r"\s+", " ", answer.content.decode())


@pytest.fixture
def stray(as_vera, orchard) -> Photo:
    as_vera.post(STRAYS, {"photos": [upload()]})
    Photo.objects.update(taken_at=NOW)
    return Photo.objects.get()


def test_photos_come_in_without_a_tree_and_wait(as_vera, orchard):
    page = text_of(as_vera.get(STRAYS))
    assert "Every photo has its tree." in page
    assert 'data-outbox="photos"' in page
    answer = as_vera.post(STRAYS, {"photos": [upload(300), upload(310)]}, follow=True)
    page = text_of(answer)
    assert "2 photos saved." in page
    assert "2 photos wait." in page
    answer = as_vera.post(STRAYS, {"photos": [upload(300), upload(320)]}, follow=True)
    assert "1 photo saved. 1 was here already." in text_of(answer)


def test_photos_that_come_with_their_tree_wait_for_nobody(as_vera, tree):
    files = {"photos": [upload(300), upload(310)], "tree": " a-1 "}
    page = text_of(as_vera.post(STRAYS, files, follow=True))
    assert "2 photos saved." in page
    assert "Every photo has its tree." in page
    assert {photo.tree for photo in Photo.objects.all()} == {tree}


def test_a_tree_that_is_none_is_said_and_nothing_is_saved(as_vera, tree):
    answer = as_vera.post(STRAYS, {"photos": [upload()], "tree": "Z-9"})
    assert answer.status_code == 422
    page = text_of(answer)
    assert "There is no tree Z-9 here." in page
    assert 'value="Z-9"' in page
    assert not Photo.objects.exists()


def test_what_is_no_photo_is_refused_in_words(as_vera, orchard):
    for files, told in [
        ({}, "No photo is chosen."),
        ({"photos": [SimpleUploadedFile("x.jpg", b"text")]}, "photo"),
    ]:
        answer = as_vera.post(STRAYS, files)
        assert answer.status_code == 422
        assert told in text_of(answer)
    assert not Photo.objects.exists()


def test_one_tap_gives_a_photo_the_look_beside_it(as_vera, tree, vera, stray):
    seen = NOW - timedelta(minutes=4)
    logged = inspections.record(tree, by=vera, now=NOW, seen_at=seen, all_well=True)
    page = text_of(as_vera.get(STRAYS))
    assert "4 minutes apart" in page
    assert f'name="inspection" value="{logged.inspection.pk}"' in page
    answer = as_vera.post(
        f"{STRAYS}{stray.name}/", {"inspection": logged.inspection.pk}, follow=True
    )
    assert "The photo belongs to A-1 now." in text_of(answer)
    stray.refresh_from_db()
    assert stray.inspections.get() == logged.inspection
    assert stray.trees.get() == tree
    again = as_vera.get(f"{STRAYS}{stray.name}/")
    assert again.url == f"/alderbrook/photos/{stray.name}/"


def test_a_photo_is_given_a_tree_by_its_code(as_vera, tree, stray):
    make_tree(tree.orchard, "A-2")
    address = f"{STRAYS}{stray.name}/"
    assert "No inspection by that person near" in text_of(as_vera.get(address))
    for said, told in [
        ({"tree": "Z-9"}, "There is no tree Z-9 here."),
        ({"tree": " "}, "Choose the inspection or tree"),
        ({"inspection": "x"}, "Fix the marked fields"),
    ]:
        answer = as_vera.post(address, said)
        assert answer.status_code == 422
        assert told in text_of(answer)
    assert as_vera.post(address, {"inspection": "999999999"}).status_code == 404
    as_vera.post(address, {"tree": "a-2"})
    stray.refresh_from_db()
    assert stray.tree.code == "A-2"


def test_a_photo_is_taken_out_with_a_reason(as_vera, stray):
    as_vera.post(f"/alderbrook/photos/{stray.name}/withdrawal/", {"reason": "Blurred"})
    stray.refresh_from_db()
    assert stray.withdrawn_reason == "Blurred"
    assert "Every photo has its tree" in text_of(as_vera.get(STRAYS))


def test_another_volunteer_sees_nothing_of_it(client, stray, orchard, eddy):
    from tests.conftest import make_person

    client.force_login(make_person("Victor", orchard, "volunteer"))
    assert "Every photo has its tree" in text_of(client.get(STRAYS))
    assert client.get(f"{STRAYS}{stray.name}/").status_code == 403
    assert client.post(f"{STRAYS}{stray.name}/", {"tree": "A-1"}).status_code == 403
    client.force_login(eddy)
    assert "1 photo waits." in text_of(client.get(STRAYS))


def test_it_is_not_shown_around_before_it_has_a_tree(client, stray, tree, olga, cora):
    client.force_login(cora)
    assert str(stray.name) in client.get("/alderbrook/photos/").content.decode()
    # Who does not keep the photos waits until somebody said what it belongs to.
    client.force_login(olga)
    assert str(stray.name) not in client.get("/alderbrook/photos/").content.decode()
    stray.trees.add(tree)
    assert str(stray.name) in client.get("/alderbrook/photos/").content.decode()
