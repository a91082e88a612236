"""The page of a case: whom to ring, the steps, the log of calls."""

from __future__ import annotations

import pytest
from django.utils import timezone

from orchard.records.models import CaseCall, Change
from orchard.services import cases, inspections
from orchard.services.inspections import SeenSign
from tests.conftest import NOW
from tests.refusals import refused

pytestmark = pytest.mark.django_db
CALL = {
    "caller": "Lee",
    "called": "The plant-health office",
    "called_at": "2026-01-05T10:30",
    "summary": "They come on Thursday.",
}


@pytest.fixture
def case(tree, vera):
    seen = [SeenSign("psyllid_nymph", {"count": 1})]
    looked = inspections.record(tree, by=vera, now=NOW, seen_at=NOW, findings=seen)
    return looked.cases[0]


def test_a_lead_reads_whom_to_ring_and_writes_down_a_call(client, lee, case):
    case.orchard.report_name, case.orchard.report_phone = "Cora", "+1 555 0100"
    case.orchard.save()
    client.force_login(lee)
    address = f"/alderbrook/cases/{case.pk}/"
    page = client.get(address).content.decode()
    assert "Ring Cora: +1 555 0100" in page
    assert "No call is written down yet." in page
    assert client.post(f"{address}calls/", CALL).url == f"{address}#calls"
    page = client.get(address).content.decode()
    assert "Lee called The plant-health office" in page
    assert "They come on Thursday." in page
    call = CaseCall.objects.get()
    zone = timezone.zoneinfo.ZoneInfo(case.orchard.time_zone)
    assert f"{call.called_at.astimezone(zone):%Y-%m-%dT%H:%M}" == CALL["called_at"]
    line = Change.objects.get(subject_type="casecall")
    assert (line.by, line.private, line.orchard) == (lee, True, case.orchard)


def test_a_case_names_the_numbers_of_those_who_lead(client, lee, cora, vera, case):
    for person, phone in ((vera, "+1 555 0101"), (lee, "+1 555 0102")):
        person.phone = phone
        person.save()
    client.force_login(lee)
    page = client.get(f"/alderbrook/cases/{case.pk}/").content.decode()
    assert "Lee, crew lead: +1 555 0102" in page
    assert 'href="tel:+15550102"' in page
    assert "Cora. Each adds it under" in page
    assert "+1 555 0101" not in page


def test_a_call_needs_all_of_it_and_lies_in_the_past(client, lee, case):
    client.force_login(lee)
    address = f"/alderbrook/cases/{case.pk}/calls/"
    for fault in (
        {"summary": ""},
        {"called_at": ""},
        {"called_at": "2999-01-01T08:00"},
        {"called_at": "0001-01-01T00:00"},
        {"called_at": "1926-05-01T08:00"},
    ):
        answer = client.post(address, CALL | fault)
        assert answer.status_code == 422
        assert answer.context["call_form"].errors.keys() == fault.keys()
    assert not CaseCall.objects.exists()


def test_nobody_else_learns_of_a_call(client, eddy, olga, vera, case):
    for person in (eddy, olga, vera):
        client.force_login(person)
        assert (
            client.post(f"/alderbrook/cases/{case.pk}/calls/", CALL).status_code == 404
        )
    assert not CaseCall.objects.exists()


def test_a_closed_case_takes_no_more_calls(lee, cora, case):
    closed = cases.close(case, by=cora, now=NOW, outcome="Not found")
    with refused("already_closed"):
        cases.note_call(
            closed,
            by=lee,
            now=NOW,
            caller="Lee",
            called="Cora",
            called_at=NOW,
            summary="-",
        )
