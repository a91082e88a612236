"""Which inspections came in today, among all that ever did."""

from __future__ import annotations

import re

import pytest
from django.db import connection

from orchard.services import inspections
from orchard.services.inspections import Period
from tests.conftest import NOW, TODAY

pytestmark = pytest.mark.django_db


def test_what_came_in_today_is_found_by_its_arrival_alone(orchard):
    # What is long seen may come in today: the day of a look says nothing of it.
    today = inspections.list_inspections(orchard, Period.TODAY, now=NOW, today=TODAY)
    if connection.vendor == "sqlite":
        wanted = r"inspection_received \(orchard_id=\? AND received_at>\?\)"
    else:
        # Of a table without rows PostgreSQL would read all.
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL enable_seqscan = off")
        wanted = r"inspection_received.*\s+Index Cond: .*orchard_id.*received_at >"
    plan = today.explain()
    assert re.search(wanted, plan), plan
