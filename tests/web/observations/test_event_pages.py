"""Noting what happened and which growth stage was seen, by plain forms."""

from __future__ import annotations

import pytest

from orchard.records.models import Happening, StageNote
from tests.conftest import NOW, TODAY

pytestmark = pytest.mark.django_db
DAY = TODAY.isoformat()


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    from orchard.web import doorkeeper

    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: NOW)


def test_an_event_of_a_tree_is_noted_corrected_and_withdrawn(as_vera, tree):
    page = as_vera.get("/alderbrook/trees/A-1/events/").content.decode()
    assert "What happened to A-1" in page
    said = {"what": "bark_bared", "happened_on": DAY, "note": "North side"}
    as_vera.post("/alderbrook/trees/A-1/events/", said)
    row = Happening.objects.get()
    assert (row.tree, row.note) == (tree, "North side")
    correction = f"/alderbrook/events/{row.pk}/correction/"
    assert "North side" in as_vera.get(correction).content.decode()
    assert as_vera.post(correction, said).status_code == 422
    said |= {"note": "South side", "reason": "Mixed up"}
    as_vera.post(correction, said)
    newer = Happening.objects.current().get()
    assert newer.note == "South side"
    withdrawal = f"/alderbrook/events/{newer.pk}/withdrawal/"
    assert as_vera.get(withdrawal).status_code == 200
    assert as_vera.post(withdrawal, {"reason": ""}).status_code == 422
    as_vera.post(withdrawal, {"reason": "Other tree"})
    assert not Happening.objects.current().exists()


def test_an_event_of_the_orchard_offers_only_what_happens_to_orchards(as_vera):
    page = as_vera.get("/alderbrook/events/").content.decode()
    assert "Frost night" in page
    assert "Repotted" not in page
    as_vera.post("/alderbrook/events/", {"what": "frost_night", "happened_on": DAY})
    assert Happening.objects.get().tree is None
    answer = as_vera.post(
        "/alderbrook/events/", {"what": "frost_night", "happened_on": "2030-01-01"}
    )
    assert answer.status_code == 422
    assert "in the future" in answer.content.decode()


def test_a_growth_stage_is_noted_for_one_tree_or_its_group(as_vera, tree):
    page = as_vera.get("/alderbrook/trees/A-1/stages/").content.decode()
    assert "all trees of the group navel" in page
    as_vera.post(
        "/alderbrook/trees/A-1/stages/", {"bbch": 65, "seen_on": DAY, "whose": "tree"}
    )
    as_vera.post(
        "/alderbrook/trees/A-1/stages/",
        {"bbch": 65, "seen_on": DAY, "whose": "group"},
    )
    notes = StageNote.objects.order_by("id")
    assert [(one.tree, one.group) for one in notes] == [(tree, ""), (None, "navel")]
    correction = f"/alderbrook/stages/{notes[0].pk}/correction/"
    said = {"bbch": 69, "seen_on": DAY, "reason": "Petals down"}
    assert as_vera.get(correction).status_code == 200
    as_vera.post(correction, said)
    assert StageNote.objects.current().filter(tree=tree).get().bbch == 69
    withdrawal = f"/alderbrook/stages/{notes[1].pk}/withdrawal/"
    as_vera.post(withdrawal, {"reason": "Only that one"})
    assert StageNote.objects.current().count() == 1


def test_others_notes_are_not_ones_own(client, vera, eddy, tree):
    client.force_login(vera)
    said = {"what": "bark_bared", "happened_on": DAY, "note": ""}
    client.post("/alderbrook/trees/A-1/events/", said)
    row = Happening.objects.get()
    client.force_login(eddy)
    address = f"/alderbrook/events/{row.pk}/withdrawal/"
    assert client.get(address).status_code == 403
    answer = client.post(address, {"reason": "Not so"})
    assert answer.status_code == 403
    assert "Only the person who recorded it" in answer.content.decode()
    assert Happening.objects.current().get() == row


def test_the_office_notes_nothing_and_outsiders_find_nothing(
    client, olga, otto, vera, tree
):
    client.force_login(olga)
    assert client.get("/alderbrook/trees/A-1/events/").status_code == 403
    client.force_login(otto)
    assert client.get("/alderbrook/trees/A-1/events/").status_code == 404
    assert client.get("/southbank/events/1/correction/").status_code == 404
