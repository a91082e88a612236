"""The board as a page: with and without htmx, narrowed, read on, for every role."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.conftest import TODAY
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    from orchard.web import doorkeeper
    from tests.conftest import NOW

    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: NOW)


def test_a_line_says_what_why_when_and_who(as_vera, tree, lee):
    make_task(tree, because="The root takes over.", taken_by=lee)
    page = as_vera.get("/alderbrook/board/").content.decode()
    for said in ("A-1", "Sucker round", "The root takes over.", "2 days late", "Lee"):
        assert said in page
    assert page.count("<h1") == 1


def test_an_empty_board_says_how_work_gets_there(as_vera):
    page = as_vera.get("/alderbrook/board/").content.decode()
    assert "No open tasks." in page
    page = as_vera.get("/alderbrook/board/?late=on").content.decode()
    assert "No open task matches" in page


def test_htmx_gets_the_list_alone_and_the_address_works_without(as_vera, tree):
    make_task(tree)
    address = "/alderbrook/board/?block=A&person=nobody&kind=care&late=on"
    whole = as_vera.get(address)
    part = as_vera.get(address, headers={"HX-Request": "true"})
    assert "Sucker round" in whole.content.decode()
    assert "<h1" in whole.content.decode()
    assert "Sucker round" in part.content.decode()
    assert "<h1" not in part.content.decode()
    assert "HX-Request" in whole["Vary"]


def test_filters_that_make_no_sense_are_left_out(as_vera, tree):
    make_task(tree)
    address = "/alderbrook/board/?person=x'--&kind=juggling&late=perhaps&after=%00"
    assert "Sucker round" in as_vera.get(address).content.decode()


def test_the_board_is_read_on_with_its_filters(as_vera, tree):
    for number in range(35):
        due = TODAY - timedelta(days=number + 1)
        make_task(tree, f"w{number}", due_on=due, opens_on=due, title=f"W{number}.")
    first = as_vera.get("/alderbrook/board/?late=on")
    url = first.context["later_url"]
    assert url.startswith("/alderbrook/board/?late=on&after=")
    second = as_vera.get(url)
    assert len(first.context["board"].rows) + len(second.context["board"].rows) == 35
    assert second.context["earlier_url"] == "/alderbrook/board/?late=on"


def test_those_who_do_not_work_see_no_buttons(client, olga, tree):
    make_task(tree)
    client.force_login(olga)
    page = client.get("/alderbrook/board/").content.decode()
    assert "Sucker round" in page
    assert "/closure/" not in page
    assert "Take it" not in page


def test_a_private_report_is_no_line_for_a_volunteer(client, vera, lee, tree):
    make_task(tree, "psyllid_nymph", kind="report", private=True, title="Hush")
    client.force_login(vera)
    assert "Hush" not in client.get("/alderbrook/board/").content.decode()
    client.force_login(lee)
    assert "Hush" in client.get("/alderbrook/board/").content.decode()
