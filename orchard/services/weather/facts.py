"""What the weather on record says to a verdict or a job: frost and heat ahead, frost
nights behind, and how much colder than its forecast the orchard is."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Max

from orchard.records.models import Forecast, Orchard, Reading, WeatherDay
from orchard.science import frost
from orchard.science.figures import days, figure
from orchard.services.weather import series
from orchard.services.weather.series import Expected


@dataclass(frozen=True, slots=True)
class Outside:
    """What the weather says for one day; None where it is not known."""

    frost_forecast: bool | None
    heat_ahead: bool | None
    frost_on: date | None
    # The days ahead that are forecast to be hot, with their highest temperature, °C.
    hot_days: tuple[tuple[date, float], ...]


@dataclass(frozen=True, slots=True)
class Offset:
    """How much a spot differs from the forecast on still clear nights, °C."""

    celsius: float
    nights: int


def outside(orchard: Orchard, on: date) -> Outside:
    """Return what was forecast and measured by the end of a day, in three queries."""
    end = on + days("forecast_days")
    coming = series.expected(orchard, on, end, as_of=end_of(on, orchard.time_zone))
    return _outside(coming, on, frost_on=last_frost(orchard, on))


def ahead(orchard: Orchard, today: date) -> Outside:
    """Return what is forecast from today on, in one query; nights past left out."""
    coming = series.expected(orchard, today, today + days("forecast_days"))
    return _outside(coming, today, frost_on=None)


def _outside(
    coming: dict[date, Expected], on: date, *, frost_on: date | None
) -> Outside:
    frost_c, heat_c = figure("frost_air_c").value, figure("heat_ahead_c").value
    return Outside(
        frost_forecast=_will(coming, on, "tmin", lambda low: low <= frost_c),
        heat_ahead=_will(coming, on, "tmax", lambda high: high >= heat_c),
        frost_on=frost_on,
        hot_days=tuple(
            (day, high)
            for day, high in _highs(coming, on)
            if high is not None and high >= heat_c
        ),
    )


def _highs(
    coming: dict[date, Expected], on: date
) -> Iterable[tuple[date, float | None]]:
    for step in range(days("forecast_days").days):
        day = on + timedelta(days=step)
        if day in coming:
            yield day, coming[day].tmax


def end_of(day: date, zone: str) -> datetime:
    """Return the first moment after a day of an orchard."""
    return datetime.combine(day + timedelta(days=1), time(), tzinfo=ZoneInfo(zone))


def _will(
    coming: dict[date, Expected],
    on: date,
    name: str,
    reaches: Callable[[float], bool],
) -> bool | None:
    """Tell whether a value is reached; no only when every day ahead is forecast."""
    steps = range(days("forecast_days").days)
    values = [
        getattr(coming[day], name) if day in coming else None
        for day in (on + timedelta(days=step) for step in steps)
    ]
    if any(value is not None and reaches(value) for value in values):
        return True
    return None if None in values else False


def last_frost(orchard: Orchard, on: date) -> date | None:
    """Return the last day up to `on` on which frost was measured here."""
    frost_c = figure("frost_air_c").value
    measured = (
        WeatherDay.objects.in_orchard(orchard)
        .current()
        .filter(on__lte=on, tmin__lte=frost_c)
        .aggregate(day=Max("on"))["day"]
    )
    read = (
        Reading.objects.in_orchard(orchard)
        .current()
        .filter(on__lte=on, celsius__lte=frost_c)
        .aggregate(day=Max("on"))["day"]
    )
    return max((day for day in (measured, read) if day), default=None)


def offsets(orchard: Orchard) -> dict[int | None, Offset]:
    """Return each spot's own offset, and under None the whole orchard's.

    Learnt from readings of the lowest of still clear nights, held against what was
    last forecast before that day began. Two queries. Source: measuring one's own
    offset, Wright, G. C. (2001), University of Arizona AZ1222.
    """
    fewest = figure("offset_fewest_nights").value
    readings = list(
        Reading.objects.in_orchard(orchard)
        .current()
        .filter(what=Reading.What.LOWEST, calm_clear=True)
        .order_by("on", "id")
        .values_list("spot_id", "on", "celsius")
    )
    if len(readings) < fewest:
        return {}
    forecasts = _told_the_evening_before(orchard, {on for _spot, on, _read in readings})
    nights: dict[int | None, list[tuple[float, float]]] = {}
    for spot, on, read in readings:
        if on in forecasts:
            for place in dict.fromkeys((spot, None)):
                nights.setdefault(place, []).append((read, forecasts[on]))
    return {
        place: Offset(frost.site_offset(pairs), len(pairs))
        for place, pairs in nights.items()
        if len(pairs) >= fewest
    }


def _told_the_evening_before(
    orchard: Orchard, days: Iterable[date]
) -> dict[date, float]:
    rows = (
        Forecast.objects.in_orchard(orchard)
        .filter(for_on__in=list(days), tmin__isnull=False)
        .newest_last()
        .values_list("for_on", "made_at", "tmin")
    )
    forecasts: dict[date, float] = {}
    for on, made_at, low in rows:
        began = end_of(on - timedelta(days=1), orchard.time_zone)
        if made_at <= began and low is not None:
            forecasts[on] = low
    return forecasts


@dataclass(frozen=True, slots=True)
class Lately:
    """Measured days that work may follow from: cold nights, and heavy rain."""

    lows: tuple[tuple[date, float], ...]
    wet: tuple[date, ...]


def lately(orchard: Orchard, start: date, end: date) -> Lately:
    """Return each day's lowest temperature, and the days of heavy rain.

    The lowest of what the stations and the own thermometer say; two queries.
    """
    lows: dict[date, float] = {}
    wet: set[date] = set()
    heavy_mm = figure("rain_to_look_at_mm").value
    stations = (
        WeatherDay.objects.in_orchard(orchard)
        .current()
        .filter(on__gte=start, on__lte=end)
        .values_list("on", "tmin", "rain_mm")
    )
    for on, low, rain in stations:
        if low is not None:
            lows[on] = min(low, lows.get(on, low))
        if rain is not None and rain >= heavy_mm:
            wet.add(on)
    own = (
        Reading.objects.in_orchard(orchard)
        .current()
        .filter(on__gte=start, on__lte=end, what=Reading.What.LOWEST)
        .values_list("on", "celsius")
    )
    for on, low in own:
        lows[on] = min(low, lows.get(on, low))
    return Lately(tuple(sorted(lows.items())), tuple(sorted(wet)))
