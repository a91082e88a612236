"""A reason is checked, trimmed and cut in one place."""

from __future__ import annotations

from datetime import date

import pytest

from orchard.records.models import Change
from orchard.services import inspections, observations
from orchard.services.errors import require_reason
from tests.conftest import NOW
from tests.refusals import refused

LONG = "  " + "because " * 80
KEPT = LONG.strip()[:500]


def test_a_reason_is_trimmed_and_cut_to_what_its_column_takes():
    assert require_reason(" Wrong tree \n") == "Wrong tree"
    assert require_reason(LONG) == KEPT
    assert require_reason(LONG, most=300) == KEPT[:300]
    with refused("reason_missing", match="Give the reason"):
        require_reason(" \n")


@pytest.mark.django_db
def test_a_long_reason_costs_no_correction_of_a_note(orchard, vera):
    row = observations.note_event(
        orchard, what="frost_night", happened_on=date(2026, 1, 9), by=vera, now=NOW
    )
    row = observations.correct_event(row, by=vera, now=NOW, reason=LONG, note="-2")
    assert row.correction_reason == KEPT
    row = observations.withdraw_event(row, by=vera, now=NOW, reason=LONG)
    assert row.withdrawn_reason == KEPT
    assert Change.objects.get(verb="withdraw").reason == KEPT


@pytest.mark.django_db
def test_an_inspection_keeps_the_reason_as_it_was_checked(tree, vera, lee):
    logged = inspections.record(tree, by=vera, now=NOW, seen_at=NOW, condition=2)
    newer = inspections.correct(
        logged.inspection, by=vera, now=NOW, reason=LONG, condition=3
    )
    assert newer.inspection.correction_reason == KEPT
    gone = inspections.withdraw(newer.inspection, by=lee, now=NOW, reason=LONG)
    assert gone.withdrawn_reason == KEPT
