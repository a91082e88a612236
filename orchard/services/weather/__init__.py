"""Weather on record: days with their gaps, what they say to a verdict or a job."""

from __future__ import annotations

from orchard.services.weather.believable import doubted_minima, is_minimum_believable
from orchard.services.weather.events import (
    MOST_TENDER,
    NotedFrost,
    add_weather_events,
    frost_risk,
)
from orchard.services.weather.facts import Offset, Outside, ahead, offsets, outside
from orchard.services.weather.months import coming, files, last_source, month
from orchard.services.weather.series import (
    Day,
    Expected,
    Missing,
    expected,
    night_name,
    span,
    stations_of,
    unbroken,
)
from orchard.services.weather.usual import usual_temperatures

__all__ = [
    "MOST_TENDER",
    "Day",
    "Expected",
    "Missing",
    "NotedFrost",
    "Offset",
    "Outside",
    "add_weather_events",
    "frost_risk",
    "ahead",
    "coming",
    "expected",
    "files",
    "doubted_minima",
    "is_minimum_believable",
    "last_source",
    "month",
    "night_name",
    "offsets",
    "outside",
    "span",
    "stations_of",
    "unbroken",
    "usual_temperatures",
]
