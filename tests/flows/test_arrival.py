"""Two hundred phones come into signal together: all is kept, and nobody is sent away.

How fast it goes is measured by `python -m tests.bench.arrival`, forty records each.
"""

from __future__ import annotations

import pytest
from django.db import connection

from tests.bench.arrival import measure

pytestmark = pytest.mark.every_database
PHONES, EACH = 200, 3


def test_a_crowd_of_phones_is_taken_in_whole():
    arrived, counted = measure(connection.vendor, phones=PHONES, each=EACH, bare_s=0)
    everything = PHONES * EACH
    # All kept at the first sending: no 5xx, no lock error, nobody told to wait.
    assert arrived.answers == {"kept": everything}
    assert arrived.statuses == {200: everything}
    assert counted == {"receipts": everything, "records": everything, "complaints": 0}
