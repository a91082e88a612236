"""How to look at a tree: read once by whom it is new to, and again by anybody."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse
from django.utils import timezone

from orchard.records.models import Membership
from orchard.science.words import Verdict
from orchard.services import accounts
from tests.conftest import NOW, PASSWORD, make_orchard, make_person

pytestmark = pytest.mark.django_db

PAGE = "/alderbrook/first-day/"


def newcomer(orchard, role="volunteer"):
    person = make_person("Nia", orchard, role)
    person.last_login = None
    person.save(update_fields=["last_login"])
    return person


def sign_in(client, person, wanted=""):
    sent = {"email": person.email, "password": PASSWORD, "next": wanted}
    return client.post(reverse("sign-in"), sent)


def test_a_volunteers_first_sign_in_leads_there_and_the_second_does_not(
    client, orchard
):
    nia = newcomer(orchard)
    assert sign_in(client, nia).url == PAGE
    assert client.get(PAGE).status_code == 200
    client.post(reverse("sign-out"))
    assert sign_in(client, nia).url == "/"


def test_the_front_door_is_no_page_that_was_asked_for(client, orchard):
    assert sign_in(client, newcomer(orchard), "/").url == PAGE


def test_a_scanned_tree_comes_after_it(client, orchard, tree):
    way = sign_in(client, newcomer(orchard), "/alderbrook/trees/A-1/").url
    assert way == f"{PAGE}?next=%2Falderbrook%2Ftrees%2FA-1%2F"
    page = client.get(way).content.decode()
    assert re.search(r'href="/alderbrook/trees/A-1/">\s*Go on', page)


@pytest.mark.parametrize(
    "wanted", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:x()"]
)
def test_it_leads_on_to_our_own_pages_only(as_vera, wanted):
    page = as_vera.get(PAGE, {"next": wanted}).content.decode()
    assert "elsewhere" not in page and "javascript:" not in page
    assert re.search(r'href="/alderbrook/">\s*Go to today', page)


@pytest.mark.parametrize("role", ["lead", "educator", "office", "coordinator"])
def test_whoever_comes_as_something_else_goes_straight_on(client, orchard, role):
    assert sign_in(client, newcomer(orchard, role)).url == "/"


def test_a_lead_there_who_is_a_volunteer_here_reads_it_here(client, orchard):
    nia = newcomer(make_orchard("aaa"), "lead")
    Membership.objects.create(
        user=nia, orchard=orchard, role="volunteer", joined_at=NOW
    )
    assert sign_in(client, nia).url == PAGE


def test_who_joins_by_an_invitation_reads_it_and_the_welcome(client, orchard, cora):
    invited = accounts.invite(
        orchard, email="nia@example.org", role="volunteer", by=cora, now=timezone.now()
    )
    sent = {"name": "Nia", "password": "four-old-lemons", "again": "four-old-lemons"}
    answer = client.post(reverse("join", args=[invited.token]), sent)
    assert answer.url == PAGE
    assert "Welcome to Alderbrook." in client.get(PAGE).content.decode()


def test_a_known_person_who_joins_is_not_taught_again(as_vera, vera, southbank):
    cora = make_person("Sol", southbank, "coordinator")
    invited = accounts.invite(
        southbank, email=vera.email, role="volunteer", by=cora, now=timezone.now()
    )
    answer = as_vera.post(reverse("join", args=[invited.token]))
    assert answer.url == "/southbank/"


def test_who_sets_a_first_password_by_link_reads_it_too(client, orchard, cora):
    nia = newcomer(orchard)
    parts = accounts.make_link(
        Membership.objects.get(user=nia), by=cora, now=timezone.now()
    )
    page = client.get(reverse("password-new", args=parts)).url
    sent = {"password": "four-old-lemons", "again": "four-old-lemons"}
    assert client.post(page, sent).url == PAGE


def test_it_says_every_verdict_once_with_its_mark(as_vera):
    page = as_vera.get(PAGE).content.decode()
    assert sorted(re.findall(r'data-verdict="(\w+)"', page)) == sorted(Verdict)


def test_the_menu_and_the_guide_lead_back_to_it(as_vera):
    for page in ("/alderbrook/", "/alderbrook/guide/"):
        assert f'href="{PAGE}"' in as_vera.get(page).content.decode()


def test_who_leads_finds_it_under_this_orchard(as_cora):
    assert f'href="{PAGE}"' in as_cora.get("/alderbrook/details/").content.decode()
