"""The menu by role, and where somebody lands who took a wrong turn."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from orchard.web.context import PAGES

pytestmark = pytest.mark.django_db


@pytest.fixture
def people(vera, lee, eddy, olga, cora):
    return [vera, lee, eddy, olga, cora]


def menus(client):
    answer = client.get("/alderbrook/details/")
    return answer.context["menu"], answer.content.decode()


def test_a_menu_has_at_most_eight_entries_and_the_rest_stands_under_this_orchard(
    people, orchard
):
    for person in people:
        client = Client()
        client.force_login(person)
        menu, page = menus(client)
        assert 6 <= len(menu.entries) <= 8
        assert menu.entries[-1].label == "This orchard"
        offered = [*menu.entries, *menu.more]
        assert len({entry.url for entry in offered}) == len(offered)
        for entry in offered:
            assert f'href="{entry.url}"' in page
            assert client.get(entry.url).status_code == 200


def test_the_coordinator_reaches_every_page_of_the_menu(as_cora, orchard):
    menu, _page = menus(as_cora)
    offered = {entry.url for entry in (*menu.entries, *menu.more)}
    named = {reverse(row[1], args=["alderbrook"]) for row in PAGES}
    assert offered == named | {"/alderbrook/details/"}


def test_a_page_of_the_rest_marks_this_orchard_in_the_menu(as_vera, orchard):
    menu = as_vera.get("/alderbrook/weather/").context["menu"]
    assert [one.label for one in menu.entries if one.current] == ["This orchard"]
    menu = as_vera.get("/alderbrook/trees/").context["menu"]
    assert [one.label for one in menu.entries if one.current] == ["Trees"]


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/alderbrook/people/", 403),
        ("/alderbrook/trees/Z-9/", 404),
        ("/alderbrook/nowhere/", 404),
    ],
)
def test_a_wrong_turn_keeps_the_menu_and_says_whom_to_ask(
    as_vera, cora, orchard, address, status
):
    answer = as_vera.get(address)
    page = answer.content.decode()
    assert answer.status_code == status
    assert 'href="/alderbrook/board/"' in page
    assert f"Ask the coordinator: {cora.name}." in page


def test_an_outsider_reads_no_name_of_an_orchard(client, otto, cora, orchard):
    client.force_login(otto)
    answer = client.get("/alderbrook/nowhere/")
    assert answer.status_code == 404
    assert cora.name not in answer.content.decode()
    assert "/alderbrook/board/" not in answer.content.decode()
