"""How many rows are written at once, and how long others get to write in between."""

from __future__ import annotations

import gc
import itertools

import pytest
from django.db import connection, transaction

from orchard.services import batches


@pytest.fixture
def pauses(monkeypatch):
    """Note each pause, without sleeping it."""
    slept = []
    monkeypatch.setattr(batches, "sleep", slept.append)
    return slept


def sizes(monkeypatch, rows, *, seconds):
    """Return the sizes of batches that take so many seconds each."""
    clock = itertools.chain.from_iterable((0.0, taken) for taken in seconds)
    monkeypatch.setattr(batches, "perf_counter", lambda: next(clock))
    return [len(batch) for batch in batches.in_batches(range(rows))]


@pytest.mark.django_db(transaction=True)
class TestOutsideATransaction:
    def test_short_batches_are_full(self, monkeypatch, pauses):
        found = sizes(monkeypatch, 250, seconds=[0.05] * 3)
        assert found == [100, 100, 50]
        assert pauses == [0.05, 0.05] * (connection.vendor == "sqlite")

    def test_a_long_one_is_followed_by_fewer_rows_and_a_longer_pause(
        self, monkeypatch, pauses
    ):
        found = sizes(monkeypatch, 310, seconds=[0.3, 0.2, 0.2, 0.2, 0.1, 0.1, 0.1])
        assert found == [100, 50, 25, 25, 25, 50, 35]
        expected = [0.15, 0.15, 0.15, 0.15, 0.05, 0.05]
        assert pauses == expected * (connection.vendor == "sqlite")

    def test_python_looks_for_cycles_between_them_alone(self, monkeypatch):
        paused = []
        monkeypatch.setattr(batches, "sleep", lambda _s: paused.append(gc.isenabled()))
        within = [gc.isenabled() for _batch in batches.in_batches(range(250))]
        assert within == [False] * 3
        assert paused == [True, True] * (connection.vendor == "sqlite")
        assert gc.isenabled()

    def test_python_looks_for_them_again_where_a_batch_broke(self, pauses):
        with pytest.raises(ZeroDivisionError):
            for batch in batches.in_batches([0]):
                1 / batch[0]
        assert gc.isenabled()

    def test_no_row_makes_no_batch(self, monkeypatch, pauses):
        assert sizes(monkeypatch, 0, seconds=[]) == []


@pytest.mark.django_db
def test_within_a_transaction_all_come_at_once(monkeypatch, pauses):
    with transaction.atomic():
        assert sizes(monkeypatch, 250, seconds=[]) == [250]
    assert pauses == []
