"""Which inspections came in today, among all that ever did."""

from __future__ import annotations

import pytest
from django.db import connection

from orchard.services import inspections
from orchard.services.inspections import Period
from tests.conftest import NOW, TODAY

pytestmark = pytest.mark.django_db


def test_what_came_in_today_is_found_by_its_arrival_alone(orchard):
    # What is long seen may come in today: the day of a look says nothing of it.
    today = inspections.list_inspections(orchard, Period.TODAY, now=NOW, today=TODAY)
    if connection.vendor != "sqlite":
        pytest.skip("the planner of PostgreSQL goes by the size of the tables")
    plan = today.explain()
    assert "inspection_received (orchard_id=? AND received_at>?)" in plan, plan
