"""The pages of talk sets: filled without a script, refusing what is not finished."""

from __future__ import annotations

import re
from datetime import timedelta
from io import BytesIO
from zipfile import ZipFile

import pytest
from pptx import Presentation

from orchard.records.models import Photo, PhotoLink, Slide, TalkSet
from orchard.services import talks
from tests.conftest import NOW
from tests.services.talks.photos_to_show import photo_to_show
from tests.web.test_who_may import make_task

TALKS = "/alderbrook/talks/"


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


@pytest.fixture
def shown(orchard, tree, vera):
    return [photo_to_show(orchard, vera, links={"tree": tree}) for _ in range(4)]


@pytest.fixture
def as_eddy(client, eddy):
    client.force_login(eddy)
    return client


@pytest.fixture
def talk_set(orchard, eddy, shown):
    return talks.start(orchard, title="Citrus", photos=shown[:2], by=eddy, now=NOW)


def here(talk_set, *parts):
    return "".join([f"{TALKS}{talk_set.pk}/", *(f"{part}/" for part in parts)])


def slide_at(talk_set, position):
    return talk_set.slides.get(position=position, removed_at=None)


def test_a_talk_is_made_by_forms_alone(as_eddy, orchard, shown):
    assert "No talk sets yet" in as_eddy.get(TALKS).text
    page = as_eddy.post(TALKS, {"title": "Leaves"}, follow=True)
    talk_set = TalkSet.objects.get()
    assert page.redirect_chain[-1][0] == here(talk_set, "photos")
    assert page.text.count('name="photo"') == 4
    chosen = {"photo": [shown[2].pk, shown[0].pk], "layout": "before_after"}
    page = as_eddy.post(here(talk_set, "photos"), chosen, follow=True)
    assert "1 slide added" in page.text
    words = {"kind": "text", "title": "Thank you", "text": "Come again"}
    page = as_eddy.post(here(talk_set, "slides"), words, follow=True)
    assert "Thank you" in page.text
    pair = slide_at(talk_set, 2)
    page = as_eddy.post(
        here(talk_set, "slides", pair.pk, "place"), {"to": "3"}, follow=True
    )
    assert "The slide is number 3 now" in page.text
    place = pair.places.first()
    said = {
        "title": "A leaf",
        "note": "Wait.",
        f"caption-{place.pk}": "In March",
        f"alt_text-{place.pk}": "A pale leaf",
    }
    page = as_eddy.post(here(talk_set, "slides", pair.pk), said, follow=True)
    assert "In March" in page.text
    # The second photo's caption was sent empty.
    assert "The caption is missing" in page.text
    page = as_eddy.post(here(talk_set, "undo"), follow=True)
    assert "Undone: edited a slide" in page.text
    deck = as_eddy.get(here(talk_set, "deck"))
    assert deck["Content-Disposition"] == 'attachment; filename="leaves.pptx"'
    assert deck["Cache-Control"] == "no-store"
    slides = Presentation(BytesIO(b"".join(deck.streaming_content))).slides
    assert len(slides) == 4
    pack = as_eddy.get(here(talk_set, "pictures"))
    with ZipFile(BytesIO(b"".join(pack.streaming_content))) as parts:
        assert len(parts.namelist()) == 3


@pytest.mark.parametrize("file", ["deck", "pictures", "handout", "player"])
def test_an_unfinished_set_does_not_leave_and_says_which_slide_lacks_what(
    as_eddy, talk_set, shown, file
):
    Photo.objects.filter(pk=shown[1].pk).update(credit="")
    answer = as_eddy.get(here(talk_set, file))
    assert answer.status_code == 422
    assert "Slide 3: The credit is missing." in answer.text


def test_a_fallen_place_is_told_and_cleared(as_eddy, client, talk_set, shown, cora):
    caption = shown[1].caption
    Photo.objects.filter(pk=shown[1].pk).update(private=True)
    page = as_eddy.get(here(talk_set)).text
    assert "It may not be shown at present." in page
    assert caption not in page
    assert str(shown[1].name) not in page
    assert as_eddy.get(here(talk_set, "handout")).status_code == 422
    assert caption not in as_eddy.get(here(talk_set, "photos")).text
    edit = as_eddy.get(here(talk_set, "slides", slide_at(talk_set, 3).pk)).text
    assert caption not in edit
    page = as_eddy.post(here(talk_set, "emptying"), follow=True).text
    assert "Empty places removed" in page
    assert as_eddy.get(here(talk_set, "handout")).status_code == 200
    # Undoing brings the place back, and not the photo.
    page = as_eddy.post(here(talk_set, "undo"), follow=True).text
    assert "It may not be shown at present." in page
    assert str(shown[1].name) not in page


def test_a_photo_that_may_not_be_shown_is_not_taken_however_it_is_sent(
    as_eddy, talk_set, orchard, vera, otto, southbank
):
    inside = photo_to_show(orchard, vera, audience="inside")
    other = photo_to_show(southbank, otto)
    for photo in (inside, other):
        answer = as_eddy.post(here(talk_set, "photos"), {"photo": photo.pk})
        assert answer.status_code == 422
        assert "Tick at least one photo" in answer.text
    assert Slide.objects.count() == 4


def test_the_chooser_is_narrowed_by_tree_and_caption(as_eddy, talk_set, shown):
    words = {"tree": "a-1", "text": shown[3].caption}
    page = as_eddy.get(here(talk_set, "photos"), words).text
    assert page.count('name="photo"') == 1
    page = as_eddy.get(here(talk_set, "photos"), {"tree": "B-9"}).text
    assert "Nothing matches. Clear a filter." in page


def test_others_read_a_set_and_change_nothing(client, talk_set, vera):
    client.force_login(vera)
    page = client.get(here(talk_set)).text
    assert "Citrus" in page
    assert not re.search(r'name="to"|/undo/|/deck/', page)
    assert client.post(here(talk_set), {"title": "Mine"}).status_code == 403


def test_a_set_is_copied_removed_and_brought_back(as_eddy, client, talk_set, vera):
    page = as_eddy.post(here(talk_set, "copies"), follow=True)
    assert "Copy of Citrus" in page.text
    page = as_eddy.post(here(talk_set, "removal"), follow=True)
    assert "Talk set “Citrus” removed" in page.text
    assert f'action="{here(talk_set, "return")}"' in page.text
    assert "This set was removed" in as_eddy.get(here(talk_set)).text
    client.force_login(vera)
    assert client.get(here(talk_set)).status_code == 404


def test_the_home_of_the_educator_names_talk_sets(as_eddy, talk_set):
    page = as_eddy.get("/alderbrook/").text
    assert re.search(r'href="/alderbrook/talks/".*?<b>1</b>', page, re.DOTALL)


def test_one_press_makes_a_set_by_purpose_or_says_what_is_missing(
    as_eddy, tree, shown, talk_set
):
    purpose = f"{TALKS}purposes/"
    asked = {"purpose": "years", "tree": tree.code}
    page = as_eddy.post(purpose, asked)
    assert page.status_code == 422
    assert "are of one year only" in page.text
    Photo.objects.filter(pk=shown[0].pk).update(taken_at=NOW.replace(year=2024))
    page = as_eddy.post(purpose, asked, follow=True)
    assert "Talk set made" in page.text
    assert "A-1 through the years: spring" in page.text
    page = as_eddy.post(f"{purpose}?set={talk_set.pk}", asked, follow=True)
    assert page.redirect_chain[-1][0] == here(talk_set)
    assert "3 slides added" in page.text
    assert as_eddy.post(purpose, {"purpose": "?"}).status_code == 404


def test_before_and_after_is_one_press_from_a_photo_and_from_the_purposes(
    as_eddy, client, orchard, tree, shown, vera
):
    task = make_task(orchard, tree, 1)
    purposes = f"{TALKS}purposes/"
    assert "Task that is done" not in as_eddy.get(purposes).text
    closure = task.closures.create(
        how="done", by=vera, done_on=NOW.date(), closed_at=NOW, evidence="Cut"
    )
    PhotoLink.objects.create(photo=shown[0], closure=closure)
    before = NOW - timedelta(days=3)
    Photo.objects.filter(pk=shown[1].pk).update(taken_at=before)
    photo_page = f"/alderbrook/photos/{shown[0].name}/"
    for page in (purposes, photo_page):
        assert f'value="{task.pk}"' in as_eddy.get(page).text
    asked = {"purpose": "task", "task": task.pk}
    page = as_eddy.post(purposes, asked, follow=True)
    assert "Talk set made" in page.text
    pair = Slide.objects.get(kind="before_after")
    photos = pair.places.order_by("position").values_list("photo", flat=True)
    assert list(photos) == [shown[1].pk, shown[0].pk]
    # Not where the photo may not be shown, nor to who keeps no talks.
    Photo.objects.filter(pk=shown[0].pk).update(audience="inside")
    assert "Task that is done" not in as_eddy.get(purposes).text
    client.force_login(vera)
    assert "Slides for a talk" not in client.get(photo_page).text


def test_the_photos_of_a_slide_change_places_by_a_press(as_eddy, talk_set, shown):
    pair = {"photo": [shown[2].pk, shown[3].pk], "layout": "pair"}
    as_eddy.post(here(talk_set, "photos"), pair)
    slide = slide_at(talk_set, 4)
    first, second = slide.places.order_by("position")
    page = as_eddy.get(here(talk_set, "slides", slide.pk)).text
    assert "Photo 1 later" in page
    assert "Photo 1 earlier" not in page
    place = here(talk_set, "slides", slide.pk, "photos", first.pk, "place")
    assert place in page
    page = as_eddy.post(place, {"to": "2"}, follow=True)
    assert "The photo is number 2 now." in page.text
    assert list(slide.places.order_by("position")) == [second, first]
    as_eddy.post(here(talk_set, "undo"))
    assert list(slide.places.order_by("position")) == [first, second]
    for to in ("", "x"):
        assert as_eddy.post(place, {"to": to}).status_code == 422


def test_a_number_that_no_database_holds_is_not_there(as_eddy, talk_set):
    far = 2**64 + 1
    slide = slide_at(talk_set, 1)
    for path in (f"{far}/slides/{slide.pk}", f"{talk_set.pk}/slides/{far}"):
        assert as_eddy.get(f"/alderbrook/talks/{path}/").status_code == 404
        gone = as_eddy.post(f"/alderbrook/talks/{path}/photos/1/removal/")
        assert gone.status_code == 404
