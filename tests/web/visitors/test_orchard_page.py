"""An orchard's page for visitors: none until it is wanted, and nothing private."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from orchard.records.models import StageNote
from orchard.services import inspections, orchards
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused

pytestmark = pytest.mark.django_db
ADDRESS = "/visit/alderbrook/"


@pytest.fixture
def noon(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def opened(orchard, cora, tree, noon):
    return orchards.correct_details(
        orchard, by=cora, now=NOW, public_page=True,
        visiting_words="Saturdays 9 to 12.\n\nBy the gate.",
    )  # fmt: skip


def page():
    response = Client().get(ADDRESS)
    assert response.status_code == 200
    return response.content.decode()


def test_there_is_none_until_the_coordinator_wants_one(client, orchard, tree, cora):
    assert client.get(ADDRESS).status_code == 404
    assert client.get("/visit/nowhere/").status_code == 404
    client.force_login(cora)
    assert client.get(ADDRESS).status_code == 404


def test_it_is_opened_and_closed_in_the_orchards_details(
    client, orchard, tree, cora, eddy, noon
):
    details = reverse("orchard-details", args=["alderbrook"])
    client.force_login(cora)
    html = client.get(details).content.decode()
    assert 'name="public_page"' in html
    sent = {
        "name": "Alderbrook", "place": "Nowhere", "time_zone": "Europe/Lisbon",
        "latitude": "38.5", "longitude": "-8.5", "units": "metric",
        "maturity_standard": "unece_ffv14", "record_profile": "other",
        "public_page": "on", "visiting_words": "Come on Saturdays.",
    }  # fmt: skip
    assert client.post(details, sent).status_code == 302
    assert "Come on Saturdays." in page()
    assert "Page for visitors" in client.get(details).content.decode()
    del sent["public_page"]
    assert client.post(details, sent).status_code == 302
    assert Client().get(ADDRESS).status_code == 404
    client.force_login(eddy)
    assert client.post(details, sent | {"public_page": "on"}).status_code == 403
    assert Client().get(ADDRESS).status_code == 404


def test_a_page_of_before_changes_nothing_of_it(client, opened, cora):
    sent = {
        "name": "Alderbrook", "place": "Nowhere", "time_zone": "Europe/Lisbon",
        "latitude": "38.5", "longitude": "-8.5", "units": "metric",
        "maturity_standard": "unece_ffv14", "record_profile": "other",
    }  # fmt: skip
    client.force_login(cora)
    details = reverse("orchard-details", args=["alderbrook"])
    assert client.post(details, sent).status_code == 302
    assert "Saturdays 9 to 12." in page()


def test_it_says_what_grows_where_and_when_to_come(opened):
    make_tree(opened, "B-2", kind="Meyer lemon")
    make_tree(opened, "B-3", kind="Meyer lemon")
    make_tree(opened, "B-4", kind="Valencia", on_display=False)
    html = page()
    assert "Saturdays 9 to 12." in html
    assert "Washington navel" in html
    assert "Valencia" not in html
    [line] = [part for part in html.split("<li>") if "<b>Meyer lemon</b>" in part]
    assert "2 trees" in line
    assert "Block B" in line


def test_what_is_in_flower_is_worth_a_walk_and_what_is_past_is_not(opened, vera):
    assert "In flower" not in page()
    note = {"orchard": opened, "by": vera, "received_at": NOW, "group": "navel"}
    StageNote.objects.create(bbch=65, seen_on=TODAY - timedelta(days=3), **note)
    html = page()
    assert html.index("In flower") < html.index("Washington navel")
    StageNote.objects.create(bbch=72, seen_on=TODAY, **note)
    assert "In flower" not in page()


def test_what_colours_or_is_ripe_is_told_once(opened, vera, monkeypatch):
    """Washington navels of the north are ripe from November to February."""
    autumn = NOW.replace(month=10)
    monkeypatch.setattr("django.utils.timezone.now", lambda: autumn)
    assert "Nothing flowers or ripens" in page()
    StageNote.objects.create(
        orchard=opened, by=vera, received_at=NOW, group="navel", bbch=81,
        seen_on=autumn.date(),
    )  # fmt: skip
    assert "Fruit colouring" in page()
    winter = NOW.replace(month=11)
    monkeypatch.setattr("django.utils.timezone.now", lambda: winter)
    html = page()
    assert "Ripe" in html
    assert "Fruit colouring" not in html


def test_no_place_no_person_no_task_and_no_case(opened, tree, lee):
    before = page()
    spot = tree.spot
    spot.latitude, spot.longitude = "38.123456", "-8.654321"
    spot.save()
    inspections.record(
        tree, by=lee, now=NOW, seen_at=NOW,
        findings=[SeenSign("psyllid_nymph", {"count": 2})], note="a suspected pest",
    )  # fmt: skip
    assert page() == before
    for secret in ("38.12", "8.65", "38.5", "Lee", "Cora", "suspect"):
        assert secret not in before


def test_no_orchard_is_called_visit(cora):
    with refused("bad_details", match="reserved"):
        orchards.found(
            name="Visit", place="Nowhere", time_zone="Europe/Lisbon", latitude="1",
            longitude="1", coordinator=cora, now=NOW, slug="visit",
        )  # fmt: skip
