"""What a page needs of the database is gathered once: no question is put twice."""

from __future__ import annotations

from collections import Counter

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orchard.services import inspections
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, make_tree


@pytest.mark.parametrize(
    "place",
    [
        "",
        "board/",
        "trees/A-1/",
        "trees/A-1/inspections/new/",
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
    with CaptureQueriesContext(connection) as asked:
        assert as_cora.get(f"/alderbrook/{place}").status_code == 200
    counted = Counter(query["sql"] for query in asked.captured_queries)
    assert {sql for sql, times in counted.items() if times > 1} == set()
