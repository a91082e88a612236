"""Waterings noted, corrected and withdrawn."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from orchard.services import (
    corrections,
    water,
)
from tests.refusals import refused
from tests.services.weather_days import TODAY


def test_a_watering_is_corrected_and_withdrawn_and_stays_readable(watered, vera):
    now = datetime(2026, 6, 10, 9, tzinfo=UTC)
    [row] = water.note_watering(
        [watered], given_on=TODAY, litres=10.0, by=vera, now=now, today=TODAY
    )
    better = water.correct_measurement(
        row, by=vera, now=now, today=TODAY, reason="misread", litres=12.0
    )
    assert better.litres == 12.0
    row.refresh_from_db()
    assert not row.is_current
    gone = corrections.withdraw(
        better, by=vera, now=now, reason="it was the tree beside"
    )
    assert not gone.is_current


def test_what_cannot_be_is_refused(watered, vera, lee):
    now = datetime(2026, 6, 10, 9, tzinfo=UTC)
    with refused("wrong_day"):
        water.note_watering(
            [watered],
            given_on=TODAY + timedelta(days=1),
            litres=5.0,
            by=vera,
            now=now,
            today=TODAY,
        )
    with refused("out_of_range"):
        water.note_watering(
            [watered], given_on=TODAY, litres=0.0, by=vera, now=now, today=TODAY
        )
    [row] = water.note_watering(
        [watered], given_on=TODAY, litres=5.0, by=lee, now=now, today=TODAY
    )
    with refused("not_yours"):
        corrections.withdraw(row, by=vera, now=now, reason="not mine")
