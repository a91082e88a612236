"""The library's pages: narrowed, chosen across pages with no script, many described."""

from __future__ import annotations

import re

import pytest

from orchard.records.models import Photo, SlidePhoto, TalkSet
from orchard.services import photos
from tests.conftest import NOW, TODAY, make_tree
from tests.web.photos.test_unassigned_pages import text_of
from tests.web.test_who_may import make_finding, make_inspection, make_photo

pytestmark = pytest.mark.django_db
LIBRARY, CHOSEN = "/alderbrook/photos/", "/alderbrook/photos/chosen/"


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch, settings, tmp_path):
    from orchard.web import doorkeeper

    settings.MEDIA_ROOT = tmp_path / "photos"
    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: NOW)


@pytest.fixture
def shots(orchard, tree, vera, tmp_path) -> list[Photo]:
    """Thirty, the newest first."""
    every = [make_photo(orchard, tree, vera, tmp_path) for _ in range(30)]
    every[-1].findings.add(make_finding(make_inspection(orchard, tree, vera)))
    return every[::-1]


def names_in(page) -> list[str]:
    return re.findall(r'name="pick" value="(\d+)"', page)


def field(page, name) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    return found.group(1) if found else ""


def test_a_photo_is_shown_with_what_is_on_record(as_cora, shots):
    page = text_of(as_cora.get(LIBRARY))
    assert "24 photos on this page" in page
    for words in ("A-1", "trunk", "seen by one person", "Spring, 12 May 2026", "Vera"):
        assert words in page
    assert 'data-verdict="act"' in page


def test_a_photo_that_is_nearly_another_says_which(as_cora, shots):
    numbers = [shots[0].pk, shots[3].pk]
    Photo.objects.filter(pk__in=numbers).update(likeness=77)
    Photo.objects.filter(pk=shots[3].pk).update(caption="A sucker")
    page = text_of(as_cora.get(LIBRARY))
    assert page.count("Nearly the same as") == 2
    assert "Nearly the same as “A sucker”" in page
    assert "Nearly the same as a photo received 12 May 2026" in page
    assert page.count(f'href="{LIBRARY}{shots[3].name}/"') == 2


def test_a_volunteer_looks_and_chooses_nothing(as_vera, shots):
    page = text_of(as_vera.get(LIBRARY))
    assert len(re.findall('class="shot"', page)) == 24
    assert 'name="pick"' not in page
    assert "Describe chosen photos" not in page
    assert "Free for" not in page


def test_what_is_narrowed_stays_on_the_form(as_cora, shots):
    page = text_of(as_cora.get(LIBRARY, {"sign": "sucker", "part": "trunk"}))
    assert names_in(page) == [str(shots[0].pk)]
    assert "1 photo." in page
    assert "2 filters are set" in page
    page = text_of(as_cora.get(LIBRARY, {"q": "hailstones"}))
    assert "No photo matches." in page
    assert "Show all photos" in page


@pytest.mark.parametrize(
    "asked",
    [
        {"kind": "x"},
        {"by": "9" * 30},
        {"sign": "nothing"},
        {"since": "yesterday"},
        {"condition": "6"},
        {"chosen": "1.x.-4." + "9" * 40},
        {"after": "nonsense"},
        {"q": "a\0b"},
        {"tree": "a\0b"},
    ],
)
def test_what_makes_no_sense_narrows_nothing(asked, as_cora, shots):
    answer = as_cora.get(LIBRARY, asked)
    assert answer.status_code == 200
    assert len(names_in(text_of(answer))) == 24


def test_what_the_list_can_be_narrowed_by_is_what_is_there_now(
    client, orchard, cora, vera, tree, shots
):
    client.force_login(cora)
    assert "Meyer" not in text_of(client.get(LIBRARY))
    make_tree(orchard, "A-2", kind="Meyer")
    page = text_of(client.get(LIBRARY))
    assert ">Meyer</option>" in page
    assert " selected>" not in page.replace('value="" selected>', "")
    assert ' name="use"' in page
    chosen = text_of(client.get(LIBRARY, {"sign": "sucker", "kind": "0"}))
    assert '<option value="sucker" selected>' in chosen
    client.force_login(vera)
    page = text_of(client.get(LIBRARY))
    assert ' name="use"' not in page
    assert ">Meyer</option>" in page


def test_a_choice_survives_paging_and_narrowing(as_cora, shots):
    """As a browser with no script sends the form: ticked boxes, and what it carries."""
    first = text_of(as_cora.get(LIBRARY))
    picked = [str(shots[4].pk), str(shots[2].pk)]
    after = field(first, "after")
    second = text_of(as_cora.get(LIBRARY, {"pick": picked, "after": after}))
    assert len(names_in(second)) == 6
    assert field(second, "chosen") == ".".join(picked)
    assert "<b>2</b>" in second
    third = text_of(
        as_cora.get(
            LIBRARY,
            {"chosen": ".".join(picked), "pick": [str(shots[29].pk)], "after": ""},
        )
    )
    ticked = re.findall(r'value="(\d+)" checked', third)
    assert sorted(ticked) == sorted(picked)
    assert field(third, "chosen") == str(shots[29].pk)
    # One box is unticked there, and the list narrowed.
    carried = {"chosen": str(shots[29].pk), "pick": picked[:1], "sign": "sucker"}
    narrowed = text_of(as_cora.get(LIBRARY, carried))
    assert field(narrowed, "chosen") == f"{shots[29].pk}.{picked[0]}"


def test_many_are_described_and_one_goes_on_with_them(as_cora, shots):
    asked = f"chosen={shots[3].pk}.{shots[1].pk}&pick={shots[2].pk}&sign="
    page = text_of(as_cora.get(f"{CHOSEN}?{asked}"))
    assert "3 photos are chosen." in page
    assert "Ready for talks and slides: 0." in page
    said = {"at": asked, "credit": "The crew", "audience": "talks", "view": "branch"}
    answer = as_cora.post(CHOSEN, said, follow=True)
    page = text_of(answer)
    assert "3 photos described." in page
    assert "3 photos are chosen." in page
    kept = Photo.objects.filter(credit="The crew", audience="talks", view="branch")
    assert set(kept) == {shots[1], shots[2], shots[3]}
    agreed = {"person": "Ann", "use": "talks", "given_on": TODAY.isoformat()}
    answer = as_cora.post(f"{CHOSEN}consents/", {"at": asked, **agreed}, follow=True)
    assert "Consent noted for 3 photos." in text_of(answer)
    assert all(photos.is_free(shot, "talks") for shot in kept)


def test_chosen_photos_begin_a_talk_set_in_their_order(as_cora, shots):
    asked = f"chosen={shots[3].pk}.{shots[1].pk}"
    refused = as_cora.post(f"{CHOSEN}talk/", {"at": asked, "title": "Suckers"})
    assert refused.status_code == 422
    assert not TalkSet.objects.exists()
    as_cora.post(CHOSEN, {"at": asked, "audience": "talks", "people": "nobody"})
    answer = as_cora.post(f"{CHOSEN}talk/", {"at": asked, "title": "Suckers"})
    talk_set = TalkSet.objects.get()
    assert answer["Location"] == f"/alderbrook/talks/{talk_set.pk}/"
    rows = SlidePhoto.objects.filter(slide__talk_set=talk_set)
    assert [row.photo for row in rows.order_by("slide__position")] == [
        shots[3],
        shots[1],
    ]


def test_what_cannot_be_done_to_many_is_said(as_cora, shots):
    asked = f"chosen={shots[3].pk}"
    answer = as_cora.post(CHOSEN, {"at": asked})
    assert answer.status_code == 422
    assert "Nothing is filled in." in text_of(answer)
    answer = as_cora.post(CHOSEN, {"at": "", "credit": "The crew"})
    assert answer.status_code == 422
    answer = as_cora.post(f"{CHOSEN}consents/", {"at": asked, "person": "Ann"})
    assert answer.status_code == 422
    assert "Give the day." in text_of(answer)


def test_a_page_of_nothing_chosen_leads_back_to_the_library(as_cora, shots):
    page = as_cora.get(f"{CHOSEN}?sort=oldest").content.decode()
    assert "No photo is chosen." in page
    [empty] = re.findall(r'(?s)<div class="empty">.*?</div>', page)
    assert f'<a class="button" href="{LIBRARY}?sort=oldest">Photos</a>' in empty


def test_a_consent_is_withdrawn_from_every_photo(as_cora, shots):
    asked = f"chosen={shots[3].pk}.{shots[4].pk}"
    agreed = {"person": "Ann", "use": "talks", "given_on": TODAY.isoformat()}
    as_cora.post(f"{CHOSEN}consents/", {"at": asked, **agreed})
    consent = shots[3].consents.get()
    withdrawal = f"{LIBRARY}{shots[3].name}/consents/{consent.pk}/withdrawal/"
    assert "For every photo this person agreed to" in text_of(as_cora.get(withdrawal))
    said = {"withdrawn_on": TODAY.isoformat(), "reason": "Asked to", "everywhere": "on"}
    as_cora.post(withdrawal, said)
    assert shots[4].consents.get().withdrawn_reason == "Asked to"


def test_the_page_costs_the_same_queries_whatever_it_holds(
    as_cora, orchard, tree, vera, tmp_path
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            as_cora.get(LIBRARY)
        return len(caught)

    make_photo(orchard, tree, vera, tmp_path)
    queries()
    few = queries()
    for _ in range(30):
        photo = make_photo(orchard, tree, vera, tmp_path)
        photo.findings.add(make_finding(make_inspection(orchard, tree, vera)))
    assert queries() == few
