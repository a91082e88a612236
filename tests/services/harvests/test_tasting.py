"""Tasting is picking: under a harvest hold fruit is measured and discarded."""

from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.records.models import RipenessTest, Task
from orchard.services import ripeness
from tests.conftest import NOW, TODAY
from tests.refusals import refused
from tests.services.harvests.helpers import AGO
from tests.services.harvests.test_picks import spray
from tests.services.treatments.helpers import allow

pytestmark = pytest.mark.django_db
TASTE = {"taste": 4, "tasters": 3}


@pytest.fixture
def garden(orchard):
    return allow(orchard)


def note_fruit(tree, by, on=TODAY, **readings):
    return ripeness.note_test(
        tree, tested_on=on, fruits=5, by=by, now=NOW, today=TODAY, **readings
    )


def test_tasting_under_a_harvest_hold_is_refused_with_its_end(garden, tree, lee, vera):
    spray(garden, tree, by=lee, fruit_days=3)
    with refused("no_tasting", match="before Fri 15 May, 03:00.*discard") as why:
        note_fruit(tree, vera, brix_read=11.0, **TASTE)
    assert why.value.field == "taste"
    assert not RipenessTest.objects.exists()
    note_fruit(tree, vera, brix_read=11.0)
    assert ripeness.trees_not_tasted(garden, now=NOW) == ("A-1",)


def test_what_was_eaten_already_is_kept_and_looked_into(garden, tree, lee, vera):
    spray(garden, tree, by=lee, fruit_days=3)
    note_fruit(tree, vera, already_eaten=True, **TASTE)
    task = Task.objects.get(kind="once")
    assert "tasting of A-1" in task.title
    assert "poison line" in task.request.steps
    assert task.due_on == TODAY


def test_tasting_is_free_before_a_spraying_and_after_its_hold(garden, tree, lee, vera):
    spray(garden, tree, by=lee, at=AGO - timedelta(days=4), fruit_days=2)
    note_fruit(tree, vera, on=TODAY - timedelta(days=6), **TASTE)
    note_fruit(tree, vera, on=TODAY, **TASTE)
    with refused("no_tasting"):
        note_fruit(tree, vera, on=TODAY - timedelta(days=3), **TASTE)
    assert not Task.objects.filter(kind="once").exists()


def test_a_taste_is_not_slipped_in_by_a_correction(garden, tree, lee, vera):
    spray(garden, tree, by=lee, fruit_days=3)
    row = note_fruit(tree, vera, brix_read=11.0).test
    with refused("no_tasting"):
        ripeness.correct_test(
            row, by=vera, now=NOW, today=TODAY, reason="Forgot", **TASTE
        )
