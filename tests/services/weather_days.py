"""Days of weather for tests, and the days they are about."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from orchard.records.models import (
    Station,
    WeatherDay,
)

# A winter afternoon in the north, in the frost season of the orchard.
AFTERNOON = datetime(2026, 1, 14, 14, 0, tzinfo=UTC)
JANUARY = date(2026, 1, 14)
TODAY = date(2026, 6, 10)


def add_days(orchard, by, start, count, *, low=8.0, high=22.0, skip=(), **more):
    station, _made = Station.objects.get_or_create(
        orchard=orchard,
        name="Gate",
        defaults={"sort": "own", "source": "own", "made_by": by, "made_at": AFTERNOON},
    )
    WeatherDay.objects.bulk_create(
        WeatherDay(
            station=station,
            on=start + timedelta(days=number),
            tmin=low,
            tmax=high,
            by=by,
            received_at=AFTERNOON,
            **{"rain_mm": 0.0, **more},
        )
        for number in range(count)
        if start + timedelta(days=number) not in skip
    )
