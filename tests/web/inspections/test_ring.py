"""Whom to ring at a Report: first on the screen, with a number that dials."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone

from orchard.records.models import Orchard
from orchard.services import inspections, orchards
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, make_person
from tests.refusals import refused

pytestmark = pytest.mark.django_db
NUMBERS = {
    "report_name": "Lee at the shed",
    "report_phone": "+351 (210) 000-111",
    "authority_name": "Plant Health Office",
    "authority_phone": "+351 210 000 222",
}
CALL = 'href="tel:+351210000111"'
SEEN = {"sign": "psyllid_nymph", "psyllid_nymph:count": "2"}


@pytest.fixture
def suspicion(tree, vera):
    now = timezone.now()
    found = [SeenSign("psyllid_nymph", {"count": 2})]
    return inspections.record(tree, by=vera, now=now, seen_at=now, findings=found)


def form_page(client, tree, **sent):
    url = reverse("inspection-new", args=["alderbrook", tree.code])
    answer = client.post(url, sent) if sent else client.get(url)
    return answer.content.decode()


def test_the_form_carries_the_number_so_that_it_is_there_without_signal(
    client, tree, vera
):
    Orchard.objects.update(**NUMBERS)
    client.force_login(vera)
    page = form_page(client, tree)
    assert 'data-ring role="alert" hidden' in page
    assert CALL in page


def test_a_report_read_without_a_script_shows_it_before_everything_else(
    client, tree, vera
):
    Orchard.objects.update(**NUMBERS)
    client.force_login(vera)
    page = form_page(client, tree, step="read", **SEEN)
    assert 'data-ring role="alert">' in page
    ring = page.index(CALL)
    assert (
        ring < page.index("tel:+351210000222") < page.index('class="form inspection"')
    )
    assert "Ring Lee at the shed: +351 (210) 000-111" in page
    harmless = form_page(client, tree, step="read", sign="psyllid_nymph")
    assert 'data-ring role="alert" hidden' in harmless


@pytest.mark.parametrize("role", ["lead", "coordinator"])
def test_those_who_lead_meet_it_on_look_task_and_case(client, orchard, suspicion, role):
    Orchard.objects.update(**NUMBERS)
    client.force_login(make_person("Reader", orchard, role))
    [case] = suspicion.cases
    report = case.tree.tasks.get(kind="report")
    for name, number in [
        ("inspection-show", suspicion.inspection.pk),
        ("task-show", report.pk),
        ("case-show", case.pk),
    ]:
        page = client.get(reverse(name, args=["alderbrook", number])).content.decode()
        assert CALL in page, name
        main = page.index("<main")
        ring = page.index('class="notice caution ring"')
        assert ring < page.index("<h2", main)


@pytest.mark.parametrize("role", ["volunteer", "educator", "office"])
def test_nobody_else_is_told_to_ring(client, orchard, suspicion, role):
    Orchard.objects.update(**NUMBERS)
    client.force_login(make_person("Reader", orchard, role))
    url = reverse("inspection-show", args=["alderbrook", suspicion.inspection.pk])
    assert 'class="notice caution ring"' not in client.get(url).content.decode()


def test_who_recorded_it_is_told_whom_to_ring_until_it_is_answered(
    client, orchard, suspicion, vera
):
    Orchard.objects.update(**NUMBERS)
    client.force_login(vera)
    url = reverse("inspection-show", args=["alderbrook", suspicion.inspection.pk])
    assert CALL in client.get(url).content.decode()


def test_without_a_number_it_says_whom_to_find(client, suspicion, vera):
    client.force_login(vera)
    url = reverse("inspection-show", args=["alderbrook", suspicion.inspection.pk])
    page = client.get(url).content.decode()
    assert "No number is set for this orchard. Find the coordinator now." in page


@pytest.mark.parametrize("number", ["ask Lee", "12", "+", "0800-CALL", "1" * 30])
def test_what_is_no_number_is_refused(orchard, vera, number):
    with refused("bad_details", match="isn't a phone number"):
        orchards.correct_details(orchard, by=vera, now=NOW, report_phone=number)


@pytest.mark.parametrize("number", ["+351 210 000 111", "(08) 8555-0101", "112"])
def test_numbers_are_kept_as_people_write_them(orchard, vera, number):
    changed = orchards.correct_details(orchard, by=vera, now=NOW, report_phone=number)
    assert changed.report_phone == number
