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
from orchard.services.weather import series
from orchard.services.weather.series import Expected

# As the facts "frost ahead", "heat ahead" and "days since frost" of the guide say.
AHEAD = timedelta(days=7)
FROST_C = 0.0
HEAT_C = 35.0
# Common practice, no source: fewer still clear nights teach no offset.
FEWEST_NIGHTS = 3
RAIN_TO_LOOK_AT_MM = 25.0


@dataclass(frozen=True, slots=True)
class Outside:
    """What the weather says for one day; None where it is not known."""

    frost_forecast: bool | None
    heat_ahead: bool | None
    frost_on: date | None


@dataclass(frozen=True, slots=True)
class Offset:
    """How much a spot differs from the forecast on still clear nights, °C."""

    celsius: float
    nights: int


def outside(orchard: Orchard, on: date) -> Outside:
    """Return what was forecast and measured by the end of a day, in three queries."""
    coming = series.expected(
        orchard, on, on + AHEAD, as_of=end_of(on, orchard.time_zone)
    )
    return Outside(
        frost_forecast=_will(coming, on, "tmin", lambda low: low <= FROST_C),
        heat_ahead=_will(coming, on, "tmax", lambda high: high >= HEAT_C),
        frost_on=last_frost(orchard, on),
    )


def ahead(orchard: Orchard, today: date) -> Outside:
    """Return what is forecast from today on, in one query; nights past left out."""
    coming = series.expected(orchard, today, today + AHEAD)
    return Outside(
        frost_forecast=_will(coming, today, "tmin", lambda low: low <= FROST_C),
        heat_ahead=_will(coming, today, "tmax", lambda high: high >= HEAT_C),
        frost_on=None,
    )


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
    days = [on + timedelta(days=step) for step in range(AHEAD.days)]
    values = [getattr(coming[day], name) if day in coming else None for day in days]
    if any(value is not None and reaches(value) for value in values):
        return True
    return None if None in values else False


def last_frost(orchard: Orchard, on: date) -> date | None:
    """Return the last day up to `on` on which frost was measured here."""
    measured = (
        WeatherDay.objects.of(orchard)
        .current()
        .filter(on__lte=on, tmin__lte=FROST_C)
        .aggregate(day=Max("on"))["day"]
    )
    read = (
        Reading.objects.of(orchard)
        .current()
        .filter(on__lte=on, celsius__lte=FROST_C)
        .aggregate(day=Max("on"))["day"]
    )
    return max((day for day in (measured, read) if day), default=None)


def offsets(orchard: Orchard) -> dict[int | None, Offset]:
    """Return each spot's own offset, and under None the whole orchard's.

    Learnt from readings of the lowest of still clear nights, held against what was
    last forecast before that day began. Two queries. Source: measuring one's own
    offset, Wright, G. C. (2001), University of Arizona AZ1222.
    """
    readings = list(
        Reading.objects.of(orchard)
        .current()
        .filter(what=Reading.What.LOWEST, calm_clear=True)
        .order_by("on", "id")
        .values_list("spot_id", "on", "celsius")
    )
    if len(readings) < FEWEST_NIGHTS:
        return {}
    told = _told_the_evening_before(orchard, {on for _spot, on, _read in readings})
    nights: dict[int | None, list[tuple[float, float]]] = {}
    for spot, on, read in readings:
        if on in told:
            for place in dict.fromkeys((spot, None)):
                nights.setdefault(place, []).append((read, told[on]))
    return {
        place: Offset(frost.site_offset(pairs), len(pairs))
        for place, pairs in nights.items()
        if len(pairs) >= FEWEST_NIGHTS
    }


def _told_the_evening_before(
    orchard: Orchard, days: Iterable[date]
) -> dict[date, float]:
    rows = (
        Forecast.objects.of(orchard)
        .filter(for_on__in=list(days), tmin__isnull=False)
        .newest_last()
        .values_list("for_on", "made_at", "tmin")
    )
    told: dict[date, float] = {}
    for on, made_at, low in rows:
        began = end_of(on - timedelta(days=1), orchard.time_zone)
        if made_at <= began and low is not None:
            told[on] = low
    return told


@dataclass(frozen=True, slots=True)
class Lately:
    """Measured days that work may follow from: cold nights, and heavy rain."""

    lows: tuple[tuple[date, float], ...]
    wet: tuple[date, ...]


def lately(orchard: Orchard, start: date, end: date) -> Lately:
    """Return each day's lowest temperature, and the days of 25 mm of rain or more.

    The lowest of what the stations and the own thermometer say; two queries.
    """
    lows: dict[date, float] = {}
    wet: set[date] = set()
    stations = (
        WeatherDay.objects.of(orchard)
        .current()
        .filter(on__gte=start, on__lte=end)
        .values_list("on", "tmin", "rain_mm")
    )
    for on, low, rain in stations:
        if low is not None:
            lows[on] = min(low, lows.get(on, low))
        if rain is not None and rain >= RAIN_TO_LOOK_AT_MM:
            wet.add(on)
    own = (
        Reading.objects.of(orchard)
        .current()
        .filter(on__gte=start, on__lte=end, what=Reading.What.LOWEST)
        .values_list("on", "celsius")
    )
    for on, low in own:
        lows[on] = min(low, lows.get(on, low))
    return Lately(tuple(sorted(lows.items())), tuple(sorted(wet)))
