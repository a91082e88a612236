"""A month of weather as one page shows it, and what else was taken in or noted."""

from __future__ import annotations

import math
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta

from orchard.records.models import Forecast, Intake, Orchard, Reading, WeatherDay
from orchard.science.figures import days
from orchard.services.weather import series
from orchard.services.weather.series import Day, Expected, Missing

LATEST_FILES = 8


@dataclass(frozen=True, slots=True)
class Month:
    """One month: its days so far, its readings, and the ends of what is on record."""

    first: date
    days: tuple[Day | Missing, ...]
    readings: tuple[Reading, ...]
    oldest: date | None
    newest: date | None

    @property
    def earlier(self) -> date | None:
        """Give the first of the month before, while anything lies there."""
        before = (self.first - timedelta(days=1)).replace(day=1)
        oldest = self.oldest.replace(day=1) if self.oldest else None
        return before if oldest and before >= oldest else None

    @property
    def later(self) -> date:
        """Give the first of the month after."""
        return (self.first + timedelta(days=31)).replace(day=1)

    @property
    def rain(self) -> float | None:
        """Sum the rain of the days on which it was measured; None when none was."""
        measured = [day.rain_mm for day in self.days if isinstance(day, Day)]
        fallen = [rain for rain in measured if rain is not None]
        return math.fsum(fallen) if fallen else None

    @property
    def rain_days(self) -> int:
        """Count the days on which rain was measured."""
        return len(self.days) - len(series.gaps(self.days, "rain_mm"))

    @property
    def warm_gaps(self) -> int:
        """Count the days without a lowest and a highest temperature."""
        return len(series.gaps(self.days, "tmin", "tmax"))


def month(orchard: Orchard, first: date, *, today: date) -> Month:
    """Return a month up to yesterday, gaps and all; a fixed number of queries."""
    first = first.replace(day=1)
    last = first.replace(day=monthrange(first.year, first.month)[1])
    until = min(last, today - timedelta(days=1))
    days = series.span(orchard, first, until) if until >= first else ()
    ends = WeatherDay.objects.in_orchard(orchard).current().order_by("on")
    oldest = ends.values_list("on", flat=True).first()
    newest = ends.values_list("on", flat=True).last()
    return Month(
        first=first,
        days=days,
        readings=readings(orchard, first, last),
        oldest=oldest,
        newest=newest,
    )


def readings(orchard: Orchard, start: date, end: date) -> tuple[Reading, ...]:
    """Return the own thermometer's readings, newest first, withdrawn ones too."""
    return tuple(
        Reading.objects.in_orchard(orchard)
        .filter(on__gte=start, on__lte=end)
        .select_related("by", "spot__block", "withdrawn_by")
        .order_by("-at", "-id")
    )


def coming(orchard: Orchard, *, today: date) -> tuple[Expected, ...]:
    """Return what is forecast from today on, day by day; one query."""
    end = today + days("forecast_days")
    return tuple(series.expected(orchard, today, end).values())


def files(orchard: Orchard) -> tuple[Intake, ...]:
    """Return the files taken in last, newest first; one query."""
    return tuple(
        Intake.objects.filter(orchard=orchard)
        .select_related("by", "station")
        .order_by("-taken_at", "-id")[:LATEST_FILES]
    )


def last_source(orchard: Orchard) -> str:
    """Return whose forecast was noted last; nothing while there is none."""
    newest = (
        Forecast.objects.in_orchard(orchard).order_by("-received_at", "-id").first()
    )
    return newest.source if newest else ""
