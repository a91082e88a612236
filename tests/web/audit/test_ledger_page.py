from __future__ import annotations

import csv
import io
import re
from zoneinfo import ZoneInfo

import pytest
from django.test import Client

from orchard.services import audit
from orchard.services.audit import pages
from tests.conftest import NOW


def words(response):
    return re.sub(r"\s+", " ", response.content.decode())


def write(orchard, user, subject, verb="correct", **fields):
    return audit.write(verb, subject, by=user, now=NOW, orchard=orchard, **fields)


def test_an_empty_ledger_says_what_will_stand_there(as_cora):
    assert "The ledger is empty" in words(as_cora.get("/alderbrook/ledger/"))


def test_a_correction_reads_as_who_what_why_and_from_what_to_what(
    as_cora, orchard, cora, tree
):
    write(
        orchard,
        cora,
        tree,
        tree=tree,
        before={"staked": False, "note": "<b>"},
        after={"staked": True, "note": "<i>"},
        reason="the stake is new",
    )
    shown = words(as_cora.get("/alderbrook/ledger/"))
    assert "Cora</td>" in shown and "corrected tree A-1" in shown
    assert "Reason: the stake is new" in shown
    assert "was no, is <b>yes</b>" in shown
    assert "was &lt;b&gt;, is <b>&lt;i&gt;</b>" in shown
    assert 'href="/alderbrook/trees/A-1/"' in shown


def test_filters_stay_while_reading_on(as_cora, orchard, cora):
    for _ in range(60):
        write(orchard, cora, orchard)
    first = words(as_cora.get("/alderbrook/ledger/", {"person": cora.pk}))
    assert first.count('id="line-') == 50
    older = re.search(r'href="([^"]+after=[^"]+)"', first).group(1)
    assert f"person={cora.pk}" in older
    second = words(as_cora.get(older.replace("&amp;", "&")))
    assert second.count('id="line-') == 10


def test_nothing_matches_is_told_as_such(as_cora, orchard, cora, tree):
    write(orchard, cora, orchard)
    shown = words(as_cora.get("/alderbrook/ledger/", {"tree": "a-1"}))
    assert "No line matches" in shown


@pytest.mark.parametrize(
    "query",
    [
        {"tree": "Z-9"},
        {"person": "x"},
        {"person": 99999},
        {"sort": "password"},
        {"first_day": "x"},
        {"first_day": "2026-05-02", "last_day": "2026-05-01"},
    ],
)
def test_a_filter_that_cannot_be_is_marked(as_cora, orchard, tree, query):
    response = as_cora.get("/alderbrook/ledger/", query)
    assert response.status_code == 422
    assert "Fix the marked fields" in words(response) or "errorlist" in words(response)
    assert as_cora.get("/alderbrook/ledger/export/", query).status_code == 422


def exported(client, query=None):
    response = client.get("/alderbrook/ledger/export/", query)
    assert response.headers["Content-Type"] == "text/csv; charset=utf-8"
    text = b"".join(response.streaming_content).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def test_the_file_has_all_lines_of_the_page_and_dates_of_the_orchard(
    as_cora, orchard, cora, tree, monkeypatch
):
    monkeypatch.setattr(pages, "EXPORTED_AT_ONCE", 10)
    for _ in range(60):
        write(orchard, cora, orchard)
    write(
        orchard,
        cora,
        tree,
        tree=tree,
        before={"staked": False},
        after={"staked": True},
        reason="=1+1",
    )
    rows = exported(as_cora)
    assert len(rows) == 61
    (row,) = (row for row in rows if row["Tree"] == "A-1")
    assert (row["Who"], row["What was done"]) == ("Cora", "corrected")
    assert row["Changes"] == "staked: was no, is yes"
    assert row["Reason"] == "'=1+1", "a spreadsheet must not take it for a formula"
    local = NOW.astimezone(ZoneInfo(orchard.time_zone))
    assert row["When"] == local.isoformat(" ", timespec="seconds")
    assert len(exported(as_cora, {"tree": "A-1"})) == 1


def test_the_file_keeps_private_lines_from_the_office(orchard, cora, olga, tree):
    write(orchard, cora, tree, "open", tree=tree, private=True, reason="suspected")
    office, desk = Client(), Client()
    office.force_login(olga)
    assert exported(office) == []
    desk.force_login(cora)
    assert [row["Reason"] for row in exported(desk)] == ["suspected"]


def test_the_link_to_the_file_keeps_the_filters(as_cora, orchard, cora):
    write(orchard, cora, orchard)
    shown = words(as_cora.get("/alderbrook/ledger/", {"person": cora.pk}))
    assert f'href="/alderbrook/ledger/export/?person={cora.pk}"' in shown


@pytest.mark.parametrize(
    "after",
    [
        "x",
        "-1",
        "1" * 30,
        "٣",
        "2026-01-01.5",
        "5.2026-01-01T00:00",
        "9999-12-31T23:59:59-01:00.1",
        "0001-01-01T00:00:00+23:59.1",
    ],
)
def test_a_place_that_cannot_be_starts_from_the_top(as_cora, orchard, cora, after):
    write(orchard, cora, orchard)
    response = as_cora.get("/alderbrook/ledger/", {"after": after})
    assert 'id="line-' in words(response)


def test_the_first_of_all_days_is_a_day_to_begin_with(as_cora, orchard, cora):
    orchard.time_zone = "Australia/Sydney"
    orchard.save()
    write(orchard, cora, orchard)
    for place in ("", "export/"):
        days = {"first_day": "0001-01-01", "last_day": "9999-12-31"}
        response = as_cora.get(f"/alderbrook/ledger/{place}", days)
        assert response.status_code == 200


def test_private_lines_stay_from_the_office(orchard, cora, olga, tree):
    write(orchard, cora, tree, "open", tree=tree, private=True, reason="suspected")
    office = Client()
    office.force_login(olga)
    assert "suspected" not in words(office.get("/alderbrook/ledger/"))
    desk = Client()
    desk.force_login(cora)
    assert "suspected" in words(desk.get("/alderbrook/ledger/"))


def test_the_page_takes_a_fixed_number_of_queries(
    as_cora, orchard, cora, tree, django_assert_max_num_queries
):
    for _ in range(50):
        write(orchard, cora, tree, tree=tree, after={"kind_id": tree.kind_id})
    with django_assert_max_num_queries(9):
        as_cora.get("/alderbrook/ledger/")
