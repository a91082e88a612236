"""What a week usually brings is read from that week of earlier years alone."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.records.models import Station, WeatherDay
from orchard.services import weather
from orchard.services.weather import usual
from tests.services.weather_days import AFTERNOON

FIRST, LAST = date(2018, 11, 1), date(2025, 3, 1)


@pytest.fixture
def record(tree, vera):
    """Each day's low is its number, so that every day can be recognised."""
    station = Station.objects.create(
        orchard=tree.orchard, name="Gate", source="own", sort="own",
        made_by=vera, made_at=AFTERNOON,
    )  # fmt: skip
    every = [FIRST + timedelta(days=n) for n in range((LAST - FIRST).days + 1)]
    WeatherDay.objects.bulk_create(
        WeatherDay(
            station=station, on=on, tmin=number / 100, tmax=number / 100 + 5.0,
            by=vera, received_at=AFTERNOON,
        )
        for number, on in enumerate(every)
    )  # fmt: skip
    return every


def place(on):
    return on.timetuple().tm_yday % 365


@pytest.mark.parametrize(
    ("start", "count"),
    [
        (date(2025, 6, 1), 3),
        (date(2024, 2, 27), 4),
        (date(2025, 2, 27), 3),
        (date(2024, 12, 28), 8),
        (date(2025, 12, 29), 1),
        (date(2024, 12, 31), 1),
        (date(2025, 1, 1), 2),
        (date(2025, 1, 1), 365),
    ],
)
def test_the_week_of_every_earlier_year_counts_and_no_other_day_is_read(
    tree, record, monkeypatch, django_assert_num_queries, start, count
):
    asked = [start + timedelta(days=n) for n in range(count)]
    placed = []
    monkeypatch.setattr(
        usual, "_place_in_year", lambda on: placed.append(on) or place(on)
    )
    with django_assert_num_queries(2):
        found = weather.usual_temperatures(tree.orchard, asked)
    before = [
        (number, on)
        for number, on in enumerate(record)
        if on < start - timedelta(days=183)
    ]
    for day in asked:
        near = {(place(day) + apart) % 365 for apart in range(-3, 4)}
        wanted = [number / 100 for number, on in before if place(on) in near]
        assert sorted(low for low, _high in found[day]) == wanted
    # A week and two days on each side, of no more than eight years.
    assert len(placed) <= count + 8 * (count + 10)
