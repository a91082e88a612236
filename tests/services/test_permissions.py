"""Whose record it is, and what is found by what an address names it by."""

from __future__ import annotations

from datetime import date

import pytest

from orchard.services import inspections, observations
from orchard.services.errors import MayNot
from orchard.services.imports import weather_files
from tests.conftest import NOW, TODAY
from tests.refusals import refused

pytestmark = pytest.mark.django_db

ANOTHERS = "^Only the person who recorded it, a crew lead or the coordinator can"


def noted(orchard, tree, by):
    """Return something of each kind by a person, with how it is taken back."""
    look = inspections.record(tree, by=by, now=NOW, seen_at=NOW, condition=3)
    return {
        "event": (
            observations.withdraw_event,
            observations.note_event(
                orchard,
                what="frost_night",
                happened_on=date(2026, 1, 9),
                by=by,
                now=NOW,
            ),
        ),
        "stage": (
            observations.withdraw_stage,
            observations.note_stage(
                orchard, tree=tree, bbch=60, seen_on=TODAY, by=by, now=NOW
            ),
        ),
        "reading": (
            weather_files.withdraw_reading,
            weather_files.note_reading(orchard, by=by, now=NOW, at=NOW, celsius=1.0),
        ),
        "look": (inspections.withdraw, look.inspection),
    }


@pytest.mark.parametrize("what", ["event", "stage", "reading", "look"])
def test_anothers_record_is_refused_in_the_same_words_everywhere(
    orchard, tree, vera, eddy, lee, what
):
    withdraw, row = noted(orchard, tree, vera)[what]
    with refused("not_yours", match=ANOTHERS) as caught:
        withdraw(row, by=eddy, now=NOW, reason="No")
    assert isinstance(caught.value, MayNot)
    assert withdraw(row, by=lee, now=NOW, reason="Yes").withdrawn_by == lee
