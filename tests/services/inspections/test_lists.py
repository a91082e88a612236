"""Which inspections came in today, among all that ever did."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.db import connection

from orchard.records.models import Inspection
from orchard.services import inspections
from orchard.services.inspections import Period
from tests.conftest import NOW, TODAY

pytestmark = pytest.mark.django_db


def test_what_came_in_today_is_found_by_its_arrival_alone(orchard, tree, vera):
    # What is long seen may come in today: the day of a look says nothing of it.
    moments = [NOW - timedelta(days=back) for back in range(400)]
    Inspection.objects.bulk_create(
        Inspection(
            orchard=orchard,
            tree=tree,
            by=vera,
            seen_on=moment.date(),
            seen_at=moment,
            made_at=moment,
            received_at=moment,
        )
        for moment in moments
    )
    today = inspections.list_inspections(orchard, Period.TODAY, now=NOW, today=TODAY)
    if connection.vendor == "sqlite":
        wanted = r"inspection_received \(orchard_id=\? AND received_at>\?\)"
    else:
        # It goes by what it knows of a table, and would read all of a small one.
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE records_inspection; SET LOCAL enable_seqscan = off")
        wanted = r"inspection_received.*\s+Index Cond: .*orchard_id.*received_at >"
    plan = today.order_by("-seen_on", "-id")[:51].explain()
    assert re.search(wanted, plan), plan
    # Joined to its tree, SQLite would begin there and go through all looks of each.
    assert "records_tree" not in plan, plan
