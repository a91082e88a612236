"""What a phone sends amiss is refused with a reason, in JSON, and nothing is kept."""

from __future__ import annotations

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from orchard.records.models import Finding, Inspection, Receipt
from orchard.science import guide
from orchard.services import inspections
from orchard.services.inspections import SeenSign
from tests.conftest import NOW
from tests.web.offline.test_offline import entry_of, sent

pytestmark = pytest.mark.django_db
WELL = [["all_well", "1"]]
DECLINE = [["sign", "fast_decline"]]


def look(**fields) -> dict:
    return {"tree": "A-1", "form": WELL, **fields}


@pytest.mark.parametrize(
    ("fields", "changes"),
    [
        (look(form=[*DECLINE, ["fast_decline:species", "NOSUCH"]]), {}),
        (look(form=[*DECLINE, ["fast_decline:species", '["a"]']]), {}),
        (look(form=[["sign", "aphids"], ["aphids:pct", "1e400"]]), {}),
        (look(form=[["sign", "no_such_sign"]]), {}),
        (look(form=[["condition", "9" * 400]]), {}),
        (look(tree="A-1\0"), {}),
        (look(tree=["A-1"]), {}),
        (look(round=1e400), {}),
        (look(form="all_well"), {}),
        (look(), {"orchard": "alder\0brook"}),
        (look(), {"person": 1e400}),
        (look(), {"made_at": "0001-01-01T00:00:00+14:00"}),
        (look(), {"sent_at": "9999-12-31T23:59:59-12:00"}),
        (look(), {"sent_at": "1901-01-01T00:00:00Z"}),
        (look(), {"key": "no key"}),
        (look(), {"kind": "song"}),
        (look(), {"version": 2}),
        ([], {}),
    ],
)
def test_an_entry_that_cannot_be_is_refused_in_words(
    as_vera, vera, tree, fields, changes
):
    answer = sent(as_vera, entry_of(vera, "inspection", fields) | changes)
    assert answer.status_code in (400, 422)
    said = answer.json()
    assert said["answer"] == "refused"
    assert len(said["reason"]) > 20
    assert not Receipt.objects.exists()
    assert not Inspection.objects.exists()


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '"a"', "[" * 100_000, "1e400"])
def test_what_is_no_entry_at_all_is_refused_in_words(as_vera, text):
    answer = as_vera.post("/inbox/", {"entry": text})
    assert answer.status_code == 400
    assert answer.json()["answer"] == "refused"


@pytest.mark.parametrize("year", ["1970", "2089"])
def test_the_furthest_clock_there_is_fits_into_the_book(as_vera, vera, tree, year):
    moment = f"{year}-01-02T00:00:00+00:00"
    entry = entry_of(vera, "inspection", look(), made_at=moment, sent_at=moment)
    assert sent(as_vera, entry).json()["answer"] == "kept"
    # Mended by the difference of the clocks: it was just seen.
    assert Receipt.objects.get().offset_seconds != 0


def test_a_photo_of_another_age_is_refused_in_words(
    as_vera, vera, tree, settings, tmp_path
):
    settings.MEDIA_ROOT = tmp_path
    fields = {"inspection": "", "finding_sign": "", "taken_at": "0001-01-01T00:00:00Z"}
    entry = entry_of(vera, "photo", fields)
    photo = SimpleUploadedFile("leaf.jpg", b"no photo", "image/jpeg")
    answer = as_vera.post("/inbox/", {"entry": json.dumps(entry), "file": photo})
    assert (answer.status_code, answer.json()["answer"]) == (400, "refused")


def test_a_species_that_a_later_guide_drops_stays_readable_and_is_asked_anew(
    as_vera, vera, tree
):
    seen = SeenSign("fast_decline", {"species": "CTV000"})
    logged = inspections.record(
        tree, by=vera, now=NOW, seen_at=NOW, findings=[seen], note="At the gate"
    )
    # As if the guide of that day had known another one, which it knows no more.
    Finding.objects.update(answers={"species": "DROPPED"}, private=False)
    Inspection.objects.update(has_private=False)
    assert "DROPPED" not in guide.load().pests
    page = f"/alderbrook/inspections/{logged.inspection.pk}/"
    assert as_vera.get(page).status_code == 200
    assert as_vera.get("/alderbrook/trees/A-1/").status_code == 200
    assert as_vera.get("/alderbrook/trees/A-1/inspections/new/").status_code == 200
    form = as_vera.get(f"{page}correction/")
    assert form.status_code == 200
    data = {"sign": "fast_decline", "fast_decline:species": "DROPPED", "reason": "x"}
    refused = as_vera.post(f"{page}correction/", data)
    assert refused.status_code == 422
    assert "choose one of the answers" in refused.content.decode()
    form = [*DECLINE, ["fast_decline:species", "DROPPED"]]
    entry = entry_of(vera, "inspection", look(form=form))
    said = sent(as_vera, entry).json()
    assert said["answer"] == "refused"
    assert "choose one of the answers" in said["reason"]


@pytest.mark.parametrize("charset", ["utf-16", "latin-1", "base64", "no-such"])
def test_a_charset_that_is_not_utf8_is_a_bad_request(as_vera, charset):
    kind = f"application/x-www-form-urlencoded; charset={charset}"
    for address in ("/inbox/", "/sign-in/", "/alderbrook/strays/"):
        answer = as_vera.generic("POST", address, b"a=b", kind)
        assert answer.status_code == 400


def test_a_greeting_brings_the_token_that_entries_are_sent_with(client, vera):
    client.force_login(vera)
    greeting = client.get("/inbox/")
    assert greeting.json()["person"] == vera.pk
    assert greeting.cookies["csrftoken"].value
