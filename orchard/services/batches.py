"""Batches: many rows written in short transactions, so that no save waits for long."""

from __future__ import annotations

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from time import perf_counter, sleep
from typing import TypeVar

from django.db import connection

Row = TypeVar("Row")
# As many tasks as are written in some hundredths of a second, and the fewest where the
# machine is slow or busy: each batch has its own reading and its own line to write.
AT_ONCE, FEWEST = 100, 25
# SQLite lets in one writer at a time and gives nobody a turn: who waits asks again ever
# more seldom, after an eighth of a second every 50 ms and after two eighths every 100
# (measured), and must find the door open then. So no batch is to hold the door for much
# longer than the first, and what did is followed by a pause that nobody sleeps through.
LONG = 0.125
PAUSE, LONG_PAUSE = 0.05, 0.15


def in_batches(rows: Sequence[Row]) -> Iterator[Sequence[Row]]:
    """Yield rows in batches, each for a transaction of its own.

    Between two of them others get to write. Within one transaction, that holds them all
    anyway, they come together.
    """
    if connection.in_atomic_block:
        if rows:
            yield rows
        return
    size, start = AT_ONCE, 0
    while start < len(rows):
        begun = perf_counter()
        with no_looking_for_cycles():
            yield rows[start : start + size]
        start += size
        was_long = perf_counter() - begun > LONG
        size = max(size // 2, FEWEST) if was_long else min(size * 2, AT_ONCE)
        if start < len(rows) and connection.vendor == "sqlite":
            sleep(LONG_PAUSE if was_long else PAUSE)


@contextmanager
def no_looking_for_cycles() -> Iterator[None]:
    """Leave what Python looks through now and then for the pause after a batch.

    The plan of thousands of trees is a million objects: looking through them takes as
    long as six batches, and all others wait where that falls into one.
    """
    is_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if is_on:
            gc.enable()
