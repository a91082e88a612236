"""Two hundred phones come into signal together, each with a day's forty records."""

from __future__ import annotations

import pytest
from django.db import connection

from tests.bench.arrival import measure

pytestmark = [pytest.mark.every_database, pytest.mark.timed]
PHONES, EACH = 200, 40


def test_a_crowd_of_phones_is_taken_in_whole_and_fast_enough():
    arrived, held = measure(connection.vendor, phones=PHONES, each=EACH)
    print(arrived)
    everything = PHONES * EACH
    # All kept at the first sending: no 5xx, no lock error, nobody told to wait.
    assert arrived.answers == {"kept": everything}
    assert arrived.statuses == {200: everything}
    assert held == {"receipts": everything, "records": everything, "complaints": 0}
    assert arrived.ratio >= 0.4, str(arrived)
