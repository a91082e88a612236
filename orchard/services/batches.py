"""Batches: many rows written in short transactions, so that no save waits for long."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from time import sleep
from typing import TypeVar

from django.db import connection

Row = TypeVar("Row")
# As many tasks as are written in some hundredths of a second.
AT_ONCE = 100
# SQLite lets in one writer at a time and gives nobody a turn: who waits asks again, at
# first every 25 ms and after an eighth of a second every 50 (its busy handler, from
# memory), and must find the door open then.
SECONDS_BETWEEN = 0.05


def in_batches(rows: Sequence[Row]) -> Iterator[Sequence[Row]]:
    """Yield rows in batches, each for a transaction of its own.

    Between two of them others get to write. Within one transaction, that holds them all
    anyway, they come together.
    """
    if connection.in_atomic_block:
        if rows:
            yield rows
        return
    for start in range(0, len(rows), AT_ONCE):
        if start and connection.vendor == "sqlite":
            sleep(SECONDS_BETWEEN)
        yield rows[start : start + AT_ONCE]
