"""What a page needs of the database is gathered once: no question is put twice."""

from __future__ import annotations

from collections import Counter

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orchard.records.models import Soil
from orchard.services import inspections
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, make_tree
from tests.web.outlook_days import cold_tomorrow, days_up_to_yesterday


@pytest.mark.parametrize(
    "place",
    [
        "",
        "board/",
        "trees/A-1/",
        "trees/A-1/inspections/new/",
        "outlook/",
        "outlook/frost/",
        "outlook/heat/",
        "outlook/ripeness/",
        "outlook/water/",
        "care/",
    ],
)
def test_a_page_asks_nothing_twice(as_cora, orchard, cora, place):
    for code in ("A-1", "A-2"):
        inspections.record(
            make_tree(orchard, code),
            by=cora,
            now=NOW,
            seen_at=NOW,
            findings=[SeenSign("sucker", {"graft": "below", "woody": False})],
        )
    days_up_to_yesterday(orchard, cora)
    cold_tomorrow(orchard, cora)
    Soil.objects.create(orchard=orchard, sort="loam", cover="bare", by=cora, set_at=NOW)
    with CaptureQueriesContext(connection) as asked:
        assert as_cora.get(f"/alderbrook/{place}").status_code == 200
    counted = Counter(query["sql"] for query in asked.captured_queries)
    assert {sql for sql, times in counted.items() if times > 1} == set()
