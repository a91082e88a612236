"""The page of a photo: what is said about it, and who agreed to what."""

from __future__ import annotations

import pytest

from orchard.records.models import Photo
from orchard.services import photos
from tests.conftest import NOW, TODAY
from tests.services.photos.test_photos import file, image
from tests.web.photos.test_unassigned_pages import text_of

pytestmark = pytest.mark.django_db
SAID = {
    "caption": "A sucker below the graft",
    "alt_text": "A green shoot from the foot of a trunk",
    "credit": "Vera",
    "view": "close_up",
    "people": "somebody",
}


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch, settings, tmp_path):
    from orchard.web import doorkeeper

    settings.MEDIA_ROOT = tmp_path / "photos"
    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: NOW)


@pytest.fixture
def photo(orchard, tree, vera) -> Photo:
    return photos.store(
        file(made=image(90, 60)), orchard=orchard, by=vera, now=NOW, tree=tree
    )


@pytest.fixture
def page(photo) -> str:
    return f"/alderbrook/photos/{photo.name}/"


def test_its_author_says_all_but_who_sees_it(as_vera, photo, page):
    shown = text_of(as_vera.get(page))
    assert 'name="audience"' not in shown
    assert "Consents" not in shown
    as_vera.post(page, {**SAID, "audience": "public"})
    photo.refresh_from_db()
    assert (photo.credit, photo.view, photo.audience) == ("Vera", "close_up", "inside")
    shown = text_of(as_vera.get(page))
    assert 'alt="A green shoot from the foot of a trunk"' in shown


def test_a_keeper_lets_it_out_with_the_consent_of_who_is_in_view(as_cora, photo, page):
    as_cora.post(page, {**SAID, "audience": "talks"})
    shown = text_of(as_cora.get(page))
    assert "Note the consent of the people in view." in shown
    given = {"person": "Ann", "use": "talks", "given_on": TODAY.isoformat()}
    shown = text_of(as_cora.post(f"{page}consents/", given, follow=True))
    assert "Consent noted." in shown
    assert "<dd>Ready.</dd>" in shown.replace("> ", ">").replace(" <", "<")
    assert "Ann agreed to talks and slides only." in shown
    assert photos.is_free(photo, "talks")


def test_a_consent_is_withdrawn_with_a_reason(as_cora, photo, page):
    as_cora.post(page, {**SAID, "audience": "talks"})
    given = {"person": "Ann", "use": "talks", "given_on": TODAY.isoformat()}
    as_cora.post(f"{page}consents/", given)
    withdrawal = f"{page}consents/{photo.consents.get().pk}/withdrawal/"
    assert "Ann agreed to: talks and slides." in text_of(as_cora.get(withdrawal))
    on = {"withdrawn_on": TODAY.isoformat()}
    answer = as_cora.post(withdrawal, on)
    assert answer.status_code == 422
    assert "Say in a few words why." in text_of(answer)
    answer = as_cora.post(withdrawal, {**on, "reason": "Asked to"}, follow=True)
    shown = text_of(answer)
    assert "Consent withdrawn." in shown
    assert "Ann withdrew the consent." in shown
    assert "Asked to" in shown
    assert not photos.is_free(photo, "talks")
    again = as_cora.post(withdrawal, {**on, "reason": "Asked to"})
    assert "This consent was withdrawn already." in text_of(again)


def test_what_is_wrong_with_a_consent_stands_on_its_form(as_cora, photo, page):
    answer = as_cora.post(f"{page}consents/", {"person": "Ann", "use": "talks"})
    assert answer.status_code == 422
    assert "Give the day." in text_of(answer)
    answer = as_cora.post(
        f"{page}consents/", {"person": "Ann", "use": "talks", "given_on": "2027-01-01"}
    )
    assert "That day is in the future." in text_of(answer)
    other = "00000000-0000-4000-8000-000000000000"
    assert as_cora.get(f"/alderbrook/photos/{other}/").status_code == 404
