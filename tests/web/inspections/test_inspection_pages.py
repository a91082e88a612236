"""The form at the tree, and the pages of what became of it."""

from __future__ import annotations

import gzip
import json
import re
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path
from posixpath import normpath

import pytest
from django.contrib.staticfiles import finders
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from PIL import Image

from orchard.records.models import (
    Case,
    Finding,
    Inspection,
    Membership,
    Photo,
    SecondLook,
    Task,
    Tree,
)
from orchard.science import guide
from orchard.science.verdict.answers import outcomes as verdict_outcomes
from orchard.services import facts, inspections, rounds, tasks
from orchard.services.inspections import SeenSign
from orchard.web.pages.inspections import packing, sign_blocks
from tests.conftest import NOW, TODAY, make_orchard, make_person, make_tree

NEW = "/alderbrook/trees/A-1/inspections/new/"
WELL = "/alderbrook/trees/A-1/all-well/"


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


def picture(name="leaf.png", colour="green"):
    out = BytesIO()
    Image.new("RGB", (60, 40), colour).save(out, "PNG")
    return SimpleUploadedFile(name, out.getvalue(), "image/png")


def record(tree, by, *seen, **more):
    return inspections.record(
        tree, by=by, now=NOW, seen_at=NOW, findings=list(seen), **more
    )


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


SUSPECT = SeenSign("psyllid_nymph", {"count": 2})
SUCKER = SeenSign("sucker", {"graft": "below", "woody": False})


# The form


def test_a_sign_not_chosen_is_written_for_its_tree_and_orchard(
    as_vera, client, tree, vera
):
    def sign_on(orchard, code):
        page = client.get(f"/{orchard.slug}/trees/{code}/inspections/new/")
        html = page.content.decode()
        return re.search(r'id="s-sucker".*?(?=id="s-|<section)', html, re.S)[0]

    make_tree(tree.orchard, "A-2")
    there = make_orchard("grove", units="us")
    make_tree(there, "A-1")
    Membership.objects.create(user=vera, orchard=there, role="volunteer", joined_at=NOW)
    record(tree, vera, SUCKER)
    assert "last time" in sign_on(tree.orchard, "A-1")
    assert "last time" not in sign_on(tree.orchard, "A-2")
    elsewhere = sign_on(there, "A-1")
    assert "last time" not in elsewhere
    assert "/alderbrook/" not in elsewhere


def test_every_sign_of_the_tree_can_be_chosen_with_its_outcomes(as_vera, tree):
    page = as_vera.get(NEW)
    assert page.status_code == 200
    html = page.content.decode()
    fitting = {one.key for one in guide.load().signs.values() if one.fits("citrus")}
    chosen = re.findall(r'name="sign" value="(\w+)"', html)
    assert sorted(chosen) == sorted(fitting)
    data = re.search(
        r'<script id="outcomes" type="application/json">(.*?)</script>', html
    )
    assert set(json.loads(data.group(1))["signs"]) == fitting


def test_the_packed_outcomes_say_what_the_law_says(tree, db):
    """Every combination of every sign, unpacked again, against the law itself."""
    ground = facts.gather(tree, on=TODAY)
    outcomes = sign_blocks.outcomes_of(ground, "citrus")
    packed = json.loads(json.dumps(packing.packed(outcomes, "metric")))
    assert set(packed["signs"]) == set(outcomes)
    for key, sign in packed["signs"].items():
        row = guide.load().signs[key]
        law = verdict_outcomes(row, ground.facts(row), ground.house_rules(row))
        for place, judged in enumerate(law.values()):
            digit = sign["table"][place]
            said = sign["said"][int(digit, 36) if isinstance(digit, str) else digit]
            assert said[0] == judged.verdict.value[0]
            assert said[1:3] == [judged.due_days, judged.recheck_days]
            marks = [one for one in said[3:] if str(one)[0] in "+?"]
            plan = [f"+{judged.plan}"] if judged.plan else []
            missing = [f"?{judged.asks}"] if judged.asks else []
            assert marks == [*plan, *missing]
            reasons = [one for one in said[3:] if one not in marks]
            told = [
                packed["says"][one]
                if isinstance(one, int)
                else row.rules[int(one.removeprefix("#"))].because
                for one in reasons
            ]
            if judged.asks and judged.verdict == "watch":
                assert told == []
            else:
                # All but the rule in words and what is missing: the record tells it.
                because = judged.because[: -2 if judged.asks else None]
                assert told == list(because[judged.rule_id != "G0" :])
        assert len(sign["table"]) == len(law)


def test_the_form_and_all_it_loads_first_weigh_at_most_40_kb(as_vera, tree):
    html = as_vera.get(NEW).content
    page = html.decode()
    assert "htmx" not in page
    files = set()

    def load(url):
        """What a page links comes with what it imports; the rest comes later."""
        path = Path(finders.find(url.removeprefix("/static/")))
        if path in files:
            return
        files.add(path)
        for found in re.findall(r'from "(\.[^"]+)"', path.read_text()):
            load(normpath(f"{Path(url).parent}/{found}"))

    for url in re.findall(r'(?:href|src)="(/static/[^"]+\.(?:css|js))"', page):
        load(url)
    assert len(files) > 3, "the styles and scripts of the page must be found"
    weight = {path.name: len(gzip.compress(path.read_bytes(), 6)) for path in files}
    weight["page"] = len(gzip.compress(html, 6))
    assert sum(weight.values()) <= 40 * 1024, weight


def test_a_finding_is_saved_and_told_with_its_reason(as_vera, tree, vera):
    key = "6f6c1a0e-0000-4000-8000-000000000001"
    answers = {"sign": "sucker", "sucker:graft": "below", "sucker:woody": "no"}
    data = {"key": key, **answers, "sucker:photo": picture(), "condition": "4"}
    page = as_vera.post(NEW, data, follow=True)
    assert page.status_code == 200
    said = text_of(page)
    assert 'data-verdict="act"' in said
    assert "graft line: below" in said
    assert guide.load().edition in said
    assert "label, local rules and licensed practice come first" in said
    finding = Finding.objects.get()
    assert finding.answers == {"graft": "below", "woody": False}
    assert Photo.objects.get().findings.get() == finding
    again = as_vera.post(NEW, {**data, "sucker:photo": picture()}, follow=True)
    assert "saved before" in text_of(again)
    assert Inspection.objects.count() == 1


def test_the_verdict_can_be_read_before_saving_without_a_script(as_vera, tree):
    data = {
        "step": "read",
        "sign": "sucker",
        "sucker:graft": "below",
        "sucker:note": "two of them",
        "condition": "3",
    }
    page = as_vera.post(NEW, data)
    html = page.content.decode()
    assert page.status_code == 200
    assert 'data-verdict="act"' in html
    assert "two of them" in html
    assert re.search(r'value="3" checked', html)
    assert re.search(r'name="sucker:graft" value="below" checked', html)
    assert not Inspection.objects.exists()


def test_pictures_and_steps_of_a_sign_come_when_it_is_chosen(as_vera, tree):
    url = "/alderbrook/trees/A-1/inspections/signs/sucker/"
    card = text_of(as_vera.get(url))
    assert "Easily mistaken for" in card
    assert 'class="steps"' in card
    alt_of = dict(re.findall(r'src="\S+?/signs/(\w+)\.svg" alt="(.*?)"', card))
    # The drawing stands for the sign; names stand beside those it is mistaken for.
    assert alt_of.pop("sucker") == guide.load().signs["sucker"].name
    assert set(alt_of.values()) == {""}
    for wrong in ("codling", "dragon"):
        assert as_vera.get(url.replace("sucker", wrong)).status_code == 404


def test_the_orchards_confirmed_photo_stands_before_the_drawing(
    as_vera, orchard, tree, vera
):
    photo = Photo.objects.create(
        orchard=orchard, by=vera, sha256="1" * 64, file_format="JPEG", width=4,
        height=3, size_bytes=1, received_at=NOW, confirmed_sign="sucker",
    )  # fmt: skip
    card = text_of(as_vera.get("/alderbrook/trees/A-1/inspections/signs/sucker/"))
    assert str(photo.name) in card
    assert "img/signs/sucker.svg" not in card
    assert "img/signs/water_sprout.svg" in card


def test_a_word_finds_signs_without_a_script_and_loses_nothing(as_vera, tree):
    data = {"step": "find", "word": "greening", "note": "by the gate"}
    html = as_vera.post(NEW, data).content.decode()
    assert html.index("Signs that fit") < html.index('id="s-hlb_mottle"')
    assert "by the gate" in html


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({}, "Nothing recorded yet"),
        ({"sign": "leafminer", "leafminer:pct": "lots"}, "is not a number"),
        ({"sign": "leafminer", "leafminer:pct": "120"}, "from 0 to 100"),
        ({"sign": "dragon"}, "no sign"),
        ({"condition": "9"}, "Condition goes from 1"),
        ({"condition": "four"}, "valid for"),
        ({"note": "x", "seen_day": "2026-02-30"}, "exist. Correct it"),
        ({"note": "x", "seen_day": "2999-01-01"}, "is in the future"),
        ({"note": "x", "seen_time": "10:00"}, "Give the day"),
        ({"note": "x", "seen_day": "2001-01-01"}, "was planted on"),
        ({"note": "x", "key": "42"}, "damaged"),
        ({"note": "x", "task": "99999"}, "not a task of"),
        ({"note": "x", "task": "one"}, "can&#x27;t be read"),
        ({"sign": "sucker", "sucker:part": "wing"}, "part of the tree"),
        ({"sign": "sucker", "sucker:woody": "maybe"}, "Answer yes, no"),
        ({"note": "x" * 4001}, "longer than"),
    ],
)
def test_a_mistake_is_told_and_what_was_typed_is_kept(as_vera, tree, data, said):
    page = as_vera.post(NEW, {"sucker:graft": "at", "word": "keep me", **data})
    assert page.status_code == 422
    assert said in text_of(page)
    assert 'value="keep me"' in text_of(page)
    assert 'name="sucker:graft" value="at" checked' in text_of(page)
    assert not Inspection.objects.exists()


def test_every_fault_is_told_at_once_beside_its_field(as_vera, tree):
    data = {
        "sign": ["leafminer", "sucker"],
        "leafminer:pct": "lots",
        "sucker:woody": "maybe",
        "sucker:part": "wing",
        "condition": "four",
        "seen_day": "2026-02-30",
        "note": "still here",
    }
    page = as_vera.post(NEW, data)
    html = page.content.decode()
    assert page.status_code == 422
    for name in (
        "leafminer:pct",
        "sucker:woody",
        "sucker:part",
        "condition",
        "seen_day",
    ):
        assert html.count(f'id="{name}_error"') == 1, name
        assert re.search(rf'aria-describedby="[^"]*\b{name}_error"', html), name
    assert 'name="leafminer:pct" value="lots" aria-invalid="true"' in html
    assert 'value="2026-02-30"' in html
    assert "still here" in html
    assert not Inspection.objects.exists()


@pytest.mark.parametrize("number", ["inf", "nan", "1e400", "-inf", "4\x00", "9" * 500])
def test_a_number_that_is_none_is_refused_in_words(as_vera, tree, number):
    for name in ("leafminer:pct", "water_sprout:count", "condition", "bbch", "task"):
        data = {"sign": name.split(":")[0] if ":" in name else "", name: number}
        page = as_vera.post(NEW, {"note": "x", **data})
        assert page.status_code == 422, name
        assert f"{name}_error" in page.content.decode() or name == "task"
    assert not Inspection.objects.exists()


def test_a_file_that_is_no_photo_is_told_and_nothing_is_saved(as_vera, tree):
    svg = SimpleUploadedFile("a.png", b"<svg/>", "image/png")
    page = as_vera.post(NEW, {"note": "keep me", "photos": svg})
    assert page.status_code == 422
    assert "not a photo we can read" in text_of(page)
    assert "choose them again" in text_of(page)
    assert not Inspection.objects.exists()


def test_inches_are_kept_as_typed_and_judged_in_centimetres(orchard, as_vera, tree):
    orchard.units = "us"
    orchard.save()
    as_vera.post(NEW, {"sign": "roots_exposed", "roots_exposed:cm": "2"})
    # An inch is 2.54 cm (NIST SP 811, from memory).
    finding = Finding.objects.get()
    assert finding.answers == {"cm": 5.08}
    assert finding.typed == {"cm": {"value": "2", "unit": "in"}}
    page = as_vera.get(f"/alderbrook/inspections/{finding.inspection_id}/")
    assert "2 in (5.08 cm)" in text_of(page)


def test_a_late_entry_says_so(as_vera, tree):
    page = as_vera.get(NEW)
    limit = re.search(r'name="seen_day" max="([\d-]+)"', page.content.decode()).group(1)
    seen_on = date.fromisoformat(limit) - timedelta(days=8)
    page = as_vera.post(NEW, {"note": "x", "seen_day": f"{seen_on}"}, follow=True)
    assert "logged 8 days later" in text_of(page)


def test_a_dead_tree_has_no_form(as_vera, tree):
    Tree.objects.update(state="dead")
    assert as_vera.get(NEW).status_code == 422
    assert as_vera.post(WELL).status_code == 422
    assert not Inspection.objects.exists()


def test_the_form_takes_a_constant_number_of_queries(as_vera, tree, vera):
    def queries():
        with CaptureQueriesContext(connection) as caught:
            as_vera.get(NEW)
        return len(caught)

    queries()
    before = queries()
    for hour in range(8):
        at = NOW - timedelta(hours=hour)
        inspections.record(
            tree, by=vera, now=NOW, seen_at=at, findings=[SUCKER, SeenSign("aphids")]
        )
    assert queries() == before


# All well


def test_a_clean_tree_takes_one_tap_and_can_be_undone(as_vera, tree):
    page = as_vera.post(WELL)
    assert page.status_code == 302
    assert page.url == "/alderbrook/trees/A-1/"
    inspection = Inspection.objects.get()
    assert inspection.all_well
    undo = f"/alderbrook/inspections/{inspection.pk}/withdrawal/?undo=1"
    assert as_vera.post(undo).status_code == 302
    inspection.refresh_from_db()
    assert inspection.withdrawn_at
    assert inspection.withdrawn_reason


def test_a_double_tap_is_one_look(as_vera, tree):
    data = {"csrfmiddlewaretoken": "the-same-showing"}
    as_vera.post(WELL, data)
    as_vera.post(WELL, data)
    assert Inspection.objects.count() == 1


def test_all_well_is_a_post(as_vera, tree):
    assert as_vera.get(WELL).status_code == 405


# Correcting


def test_a_correction_starts_from_what_was_said(as_vera, tree, vera):
    logged = record(tree, vera, SUCKER, condition=2, note="At the gate")
    url = f"/alderbrook/inspections/{logged.inspection.pk}/correction/"
    html = as_vera.get(url).content.decode()
    assert re.search(r'name="sucker:graft" value="below" checked', html)
    assert "At the gate" in html
    data = {"sign": "sucker", "sucker:graft": "above", "sucker:leaf3": "no"}
    assert as_vera.post(url, data).status_code == 422
    read = as_vera.post(url, {**data, "step": "read"})
    assert 'data-verdict="leave"' in text_of(read)
    assert Inspection.objects.count() == 1
    page = as_vera.post(url, {**data, "reason": "Looked again"}, follow=True)
    said = text_of(page)
    assert "Looked again" in said
    assert 'data-verdict="leave"' in said
    assert as_vera.get(url).status_code == 302
    old = as_vera.get(f"/alderbrook/inspections/{logged.inspection.pk}/")
    assert "This is an earlier version" in text_of(old)
    assert 'data-verdict="act"' in text_of(old)


@pytest.mark.parametrize(
    ("state", "ended"),
    [
        ("removed", {"removed_on": TODAY, "removal_reason": "Wind"}),
        ("dead", {"died_on": TODAY}),
        ("rootstock_only", {"scion_died_on": TODAY}),
        # As a register may have it, which knows no day.
        ("dead", {}),
    ],
)
@pytest.mark.parametrize("days", [0, 30])
def test_a_look_at_a_tree_of_the_past_is_corrected_as_any_other(
    as_vera, tree, vera, state, ended, days
):
    at = NOW - timedelta(days=days)
    logged = inspections.record(
        tree, by=vera, now=NOW, seen_at=at, findings=[SUCKER], note="At the gate"
    )
    Task.objects.all().delete()
    Tree.objects.update(state=state, **ended)
    url = f"/alderbrook/inspections/{logged.inspection.pk}/correction/"
    assert "At the gate" in text_of(as_vera.get(url))
    data = {"sign": "sucker", "sucker:graft": "above", "sucker:leaf3": "no"}
    empty = as_vera.post(url, {})
    assert empty.status_code == 422
    assert "Say why" in text_of(empty)
    read = as_vera.post(url, {**data, "step": "read"})
    assert 'data-verdict="leave"' in text_of(read)
    page = as_vera.post(url, {**data, "reason": "Looked again"}, follow=True)
    assert "Looked again" in text_of(page)
    assert 'data-verdict="leave"' in text_of(page)
    assert not Task.objects.open().exists()


@pytest.mark.parametrize("state", ["removed", "dead", "rootstock_only"])
def test_the_form_of_a_tree_of_the_past_says_why_there_is_none(as_vera, tree, state):
    ended = {"removed_on": TODAY, "removal_reason": "Wind"}
    ended = ended if state == "removed" else {}
    Tree.objects.update(state=state, **ended)
    for data in ({}, {"sign": "sucker"}, {"step": "find", "word": "leaf"}):
        page = as_vera.post(NEW, data)
        assert page.status_code == 422
        assert "be inspected. If that is wrong" in text_of(page)
    card = as_vera.get("/alderbrook/trees/A-1/inspections/signs/sucker/")
    assert card.status_code == 200


def test_what_was_seen_before_the_end_of_a_tree_keeps_its_form(as_vera, tree, today):
    Tree.objects.update(state="dead", died_on=TODAY)
    seen_day = (TODAY - timedelta(days=3)).isoformat()
    page = as_vera.post(NEW, {"seen_day": seen_day, "condition": "9", "note": "Ill"})
    assert page.status_code == 422
    assert "Condition goes from 1" in text_of(page)
    assert ">Ill<" in text_of(page)


def test_anothers_record_is_not_a_volunteers_to_change(client, orchard, tree, vera):
    logged = record(tree, vera, SUCKER)
    victor = make_person("Victor", orchard, "volunteer")
    client.force_login(victor)
    url = f"/alderbrook/inspections/{logged.inspection.pk}/"
    assert client.get(url).status_code == 200
    page = client.get(f"{url}correction/")
    assert page.status_code == 403
    assert "a crew lead or the coordinator can change it" in text_of(page)
    assert client.post(f"{url}correction/", {"reason": "x"}).status_code == 403
    assert client.post(f"{url}withdrawal/", {"reason": "x"}).status_code == 403
    finding = logged.findings[0].pk
    assert client.get(f"/alderbrook/findings/{finding}/override/").status_code == 403


def test_a_withdrawal_needs_a_reason(as_vera, tree, vera):
    logged = record(tree, vera, SUCKER)
    url = f"/alderbrook/inspections/{logged.inspection.pk}/withdrawal/"
    assert as_vera.get(url).status_code == 200
    assert as_vera.post(url, {}).status_code == 422
    # The short way is for "all well" alone.
    assert as_vera.post(f"{url}?undo=1", {}).status_code == 422
    assert as_vera.post(url, {"reason": "Wrong tree"}).status_code == 302


def test_an_override_stands_beside_the_books_verdict(client, tree, vera, lee):
    logged = record(tree, vera, SUCKER)
    client.force_login(lee)
    url = f"/alderbrook/findings/{logged.findings[0].pk}/override/"
    assert client.get(url).status_code == 200
    assert client.post(url, {"verdict": "leave"}).status_code == 422
    data = {"verdict": "leave", "reason": "Kept for a lesson"}
    said = text_of(client.post(url, data, follow=True))
    assert "Kept for a lesson" in said
    assert "The guide said:" in said


# Private


@pytest.fixture
def suspected(tree, vera):
    return record(tree, vera, SUSPECT, SUCKER, note="psyllids by the gate")


def test_a_suspicion_is_seen_by_its_observer_and_by_who_leads(
    client, orchard, suspected, vera, lee, cora, eddy, olga, otto
):
    victor = make_person("Victor", orchard, "volunteer")
    url = f"/alderbrook/inspections/{suspected.inspection.pk}/"
    for person, tells in [
        (vera, True),
        (lee, True),
        (cora, True),
        (victor, False),
        (eddy, False),
        (olga, False),
    ]:
        client.force_login(person)
        page = client.get(url)
        assert page.status_code == 200, person
        assert ("psyllid" in text_of(page)) is tells, person
    client.force_login(otto)
    assert client.get(url).status_code == 404


def test_a_look_with_nothing_but_a_suspicion_is_not_there_for_others(
    client, orchard, tree, vera
):
    logged = record(tree, vera, SUSPECT)
    client.force_login(make_person("Victor", orchard, "volunteer"))
    url = f"/alderbrook/inspections/{logged.inspection.pk}/"
    assert client.get(url).status_code == 404
    assert client.get(f"{url}correction/").status_code == 404


def test_the_form_does_not_tell_what_was_suspected(
    client, orchard, tree, suspected, lee
):
    for person in (make_person("Victor", orchard, "volunteer"), lee):
        client.force_login(person)
        html = client.get(NEW).content.decode()
        after = html.index('id="place-leaf"')
        before = html.index('id="place-again"')
        assert 'id="s-sucker"' in html[before:after]
        assert 'id="s-psyllid_nymph"' not in html[before:after]
        assert "Report the suspicion" not in html


def test_why_a_suspicion_was_corrected_is_not_told_to_others(
    client, orchard, tree, vera, lee
):
    old = record(tree, vera, SUSPECT).inspection
    reason = "The psyllids were aphids"
    seen = [SeenSign("aphids", {"pct": 1})]
    new = inspections.correct(old, by=vera, now=NOW, reason=reason, findings=seen)
    url = f"/alderbrook/inspections/{new.inspection.pk}/"
    for person, tells in (
        (make_person("Victor", orchard, "volunteer"), False),
        (lee, True),
    ):
        client.force_login(person)
        assert (reason in text_of(client.get(url))) is tells


def test_cases_are_there_for_those_who_lead_only(
    client, orchard, suspected, vera, lee, cora, eddy, olga, otto
):
    case = Case.objects.get()
    for person, status in [
        (lee, 200),
        (cora, 200),
        (vera, 404),
        (eddy, 404),
        (olga, 404),
        (otto, 404),
    ]:
        client.force_login(person)
        assert client.get("/alderbrook/cases/").status_code == status, person
        assert client.get(f"/alderbrook/cases/{case.pk}/").status_code == status
        if status == 404:
            url = f"/alderbrook/cases/{case.pk}/closure/"
            assert client.post(url, {"outcome": "x"}).status_code == 404
    client.force_login(lee)
    url = f"/alderbrook/cases/{case.pk}/closure/"
    assert client.post(url, {"outcome": "x"}).status_code == 403
    client.force_login(cora)
    assert client.post(url, {"outcome": ""}).status_code == 422
    page = client.post(url, {"outcome": "Not found"}, follow=True)
    assert "Not found" in text_of(page)


def test_a_private_photo_is_not_there_for_others(client, orchard, tree, as_vera, lee):
    data = {
        "sign": "psyllid_nymph",
        "psyllid_nymph:count": "1",
        "psyllid_nymph:photo": picture(),
    }
    as_vera.post(NEW, data)
    photo = Photo.objects.get()
    url = f"/alderbrook/photos/{photo.name}/"
    assert as_vera.get(f"{url}small/").status_code == 200
    client.force_login(lee)
    assert client.get(f"{url}small/").status_code == 200
    client.force_login(make_person("Victor", orchard, "volunteer"))
    assert client.get(url).status_code == 404
    assert client.get(f"{url}small/").status_code == 404


def test_why_a_suspicion_was_changed_shows_only_to_those_who_may_see_it(
    client, orchard, tree, vera, lee
):
    taken_back = record(tree, vera, SUSPECT, SUCKER).inspection
    change = {"by": vera, "now": NOW, "reason": "It was no psyllid"}
    inspections.withdraw(taken_back, **change)
    public = record(tree, vera, SUCKER).inspection
    found = inspections.correct(public, findings=[SUCKER, SUSPECT], **change)
    victor = make_person("Victor", orchard, "volunteer")
    for inspection in (taken_back, found.inspection):
        url = f"/alderbrook/inspections/{inspection.pk}/"
        for person, sees in ((victor, False), (vera, True), (lee, True)):
            client.force_login(person)
            page = text_of(client.get(url))
            assert ("It was no psyllid" in page) is sees, (url, person)


# Second looks


def test_an_unsure_finding_is_answered_by_other_eyes(client, tree, vera, lee):
    client.force_login(vera)
    data = {"sign": "sucker", "sucker:graft": "below", "sucker:unsure": "1"}
    client.post(NEW, data)
    look = SecondLook.objects.get()
    assert client.get("/alderbrook/second-looks/").status_code == 403
    client.force_login(lee)
    assert "A-1" in text_of(client.get("/alderbrook/second-looks/"))
    url = f"/alderbrook/second-looks/{look.pk}/"
    assert client.get(url).status_code == 200
    assert client.post(url, {"answer": "other"}).status_code == 422
    # The other sign is asked its own question first.
    other = {"answer": "other", "sign": "water_sprout"}
    page = client.post(url, other)
    assert 'name="water_sprout:count"' in text_of(page)
    data = {**other, "step": "save", "water_sprout:count": "2", "note": "Above it"}
    assert client.post(url, data).status_code == 302
    current = Inspection.objects.current().get()
    assert current.by == lee
    assert current.findings.get().sign == "water_sprout"
    assert client.post(url, data).status_code == 422


# Photos


@pytest.fixture
def photo(as_vera, tree):
    as_vera.post(NEW, {"note": "x", "photos": picture()})
    return Photo.objects.get()


def test_a_photo_is_served_to_members_and_kept_by_their_phone(
    client, as_vera, photo, otto, settings
):
    url = f"/alderbrook/photos/{photo.name}/middle/"
    sent = as_vera.get(url)
    assert sent["Content-Type"] == "image/jpeg"
    assert "private" in sent["Cache-Control"]
    assert "immutable" in sent["Cache-Control"]
    again = as_vera.get(url, headers={"If-None-Match": sent["ETag"]})
    assert again.status_code == 304
    assert as_vera.get(f"/alderbrook/photos/{photo.name}/original/").status_code == 404
    settings.PHOTO_REDIRECT = "/kept"
    handed = as_vera.get(url)
    assert handed["X-Accel-Redirect"].startswith("/kept/")
    assert handed.content == b""
    client.force_login(otto)
    assert client.get(url).status_code == 404
    client.logout()
    assert client.get(url).status_code == 302


def test_a_photo_gets_its_words_and_can_be_taken_out(client, as_vera, photo, lee):
    url = f"/alderbrook/photos/{photo.name}/"
    assert "Our picture" not in text_of(as_vera.get(url))
    data = {"caption": "Trail in a leaf", "people": "nobody"}
    assert "Trail in a leaf" in text_of(as_vera.post(url, data, follow=True))
    assert as_vera.post(url, {"people": "ghosts"}).status_code == 422
    client.force_login(lee)
    client.post(url, {**data, "confirmed_sign": "leafminer"})
    card = "/alderbrook/trees/A-1/inspections/signs/leafminer/"
    form = client.get(card).content.decode()
    assert f"/alderbrook/photos/{photo.name}/small/" in form
    assert client.post(f"{url}withdrawal/", {}).status_code == 422
    assert client.post(f"{url}withdrawal/", {"reason": "A face"}).status_code == 302
    client.force_login(photo.by)
    assert client.get(url).status_code == 404
    assert f"{photo.name}" not in client.get(card).content.decode()


def test_ticked_work_is_done_from_the_form(as_vera, tree, vera):
    inspections.record(
        tree,
        by=vera,
        now=NOW - timedelta(days=3),
        seen_at=NOW - timedelta(days=3),
        findings=[SUCKER],
    )
    task = Task.objects.get(kind="act", key="sucker")
    assert task.title in text_of(as_vera.get(NEW))
    page = as_vera.post(NEW, {"note": "cut", "task": task.pk}, follow=True)
    assert "Done at this look" in text_of(page)
    task.refresh_from_db()
    assert task.closed_at


@pytest.fixture
def walk(orchard, vera, lee):
    trees = [make_tree(orchard, code) for code in ("A-2", "A-3")]
    return rounds.make_round(
        orchard, by=lee, now=NOW, today=TODAY, name="Morning round", walk_on=TODAY,
        trees=trees, to=vera,
    )  # fmt: skip


def test_a_look_on_a_round_leads_to_its_next_tree(as_vera, walk, vera):
    def look_at(stop):
        arrival = inspections.Arrival(round=walk)
        logged = record(stop.tree, vera, note="Bees", arrival=arrival)
        return as_vera.get(f"/alderbrook/inspections/{logged.inspection.pk}/")

    first, second = walk.stops.order_by("position")
    page = look_at(first)
    assert f"Next tree: {second.tree.code}" in text_of(page)
    assert f"/trees/{second.tree.code}/?round={walk.pk}" in page.content.decode()
    page = text_of(look_at(second))
    assert "Every tree of this round is seen." in page
    assert "To the round" in page


def test_a_look_off_any_round_leads_to_the_last_trees(
    client, orchard, as_vera, vera, lee
):
    trees = [make_tree(orchard, f"A-{n}") for n in range(2, 8)]
    for days, tree in enumerate(trees):
        now = NOW - timedelta(days=9 - days)
        inspections.record(tree, by=vera, now=now, seen_at=now, all_well=True)
    inspections.record(trees[0], by=lee, now=NOW, seen_at=NOW, all_well=True)
    logged = record(trees[-1], vera, note="Bees")
    address = f"/alderbrook/inspections/{logged.inspection.pk}/"
    html = as_vera.get(address).content.decode()
    last = html.partition("Your last trees")[2]
    assert re.findall(r"/trees/(A-\d)/", last)[:4] == ["A-6", "A-5", "A-4", "A-7"]
    client.force_login(lee)
    assert "Your last trees" not in text_of(client.get(address))


def test_work_found_and_done_at_once_is_said_on_the_form_without_a_script(
    as_vera, tree
):
    data = {"sign": "sucker", "sucker:graft": "below", "sucker:woody": "no"}
    page = as_vera.post(NEW, {**data, "step": "read"})
    html = page.content.decode()
    assert "I've done it just now" in text_of(page)
    assert "data-done hidden" not in html
    page = as_vera.post(NEW, {**data, "sucker:done": "1"}, follow=True)
    assert "Done at this look" in text_of(page)
    assert Task.objects.get(kind="act").closed_at
    look = Inspection.objects.get()
    form = as_vera.get(f"/alderbrook/inspections/{look.pk}/correction/")
    assert 'name="sucker:done" value="1" checked' in form.content.decode()


@pytest.mark.parametrize("case", [False, True])
def test_what_a_hold_forbids_is_not_offered_as_done(as_vera, tree, request, case):
    """Nobody cuts at a tree under suspicion before the authority has spoken."""
    if case:
        request.getfixturevalue("suspected")
    card = as_vera.get("/alderbrook/trees/A-1/inspections/signs/sucker/")
    assert ("data-put-off" in card.content.decode()) is case


def test_a_verdict_that_was_answered_is_not_late_any_more(tree, as_vera, vera):
    logged = record(tree, vera, SeenSign("sucker", {"graft": "below", "woody": False}))
    page = f"/alderbrook/inspections/{logged.inspection.pk}/"
    Finding.objects.update(
        due_on=TODAY - timedelta(days=40), recheck_on=TODAY - timedelta(days=20)
    )
    Task.objects.update(
        opens_on=TODAY - timedelta(days=60), due_on=TODAY - timedelta(days=40)
    )
    assert "days late" in text_of(as_vera.get(page))
    for task in tree.tasks.open():
        tasks.close(task, by=vera, now=NOW, today=TODAY, evidence="Done")
    assert "days late" not in text_of(as_vera.get(page))
