"""Weather around today for tests of pages, and a page read."""

from __future__ import annotations

from datetime import timedelta

from django.urls import reverse
from django.utils import timezone

from orchard.records.models import (
    Forecast,
    Station,
    WeatherDay,
)


def page(client, name, orchard, *args, **query):
    answer = client.get(reverse(name, args=[orchard.slug, *args]), query)
    assert answer.status_code == 200
    return answer.content.decode()


def days_up_to_yesterday(orchard, by, count=40, **more):
    station = Station.objects.create(
        orchard=orchard, name="Gate", source="own", made_by=by, made_at=timezone.now()
    )
    today = timezone.localdate()
    WeatherDay.objects.bulk_create(
        WeatherDay(
            station=station,
            on=today - timedelta(days=back),
            tmin=9.0,
            tmax=24.0,
            by=by,
            received_at=timezone.now(),
            **{"rain_mm": 0.0, **more},
        )
        for back in range(1, count + 1)
    )


def cold_tomorrow(orchard, by, low=-3.0):
    for ahead in (0, 1):
        Forecast.objects.create(
            orchard=orchard,
            for_on=timezone.localdate() + timedelta(days=ahead),
            made_at=timezone.now(),
            source="the weather service",
            tmin=low,
            tmax=12.0,
            by=by,
            received_at=timezone.now(),
        )
