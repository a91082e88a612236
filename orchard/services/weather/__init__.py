"""Weather: taken in from files, noted by hand, given out with its gaps."""

from __future__ import annotations

from orchard.services.weather.columns import DAYS, FORECAST, Field, columns_for, labels
from orchard.services.weather.looking import fields_of, preview
from orchard.services.weather.months import Month, coming, files, last_source, month
from orchard.services.weather.noting import (
    note_forecast,
    note_reading,
    withdraw_reading,
)
from orchard.services.weather.shapes import (
    Choices,
    Column,
    Fate,
    Preview,
    RowFate,
    Sort,
)
from orchard.services.weather.taking import (
    NewStation,
    NoSuchStation,
    NotTakenIn,
    Taken,
    add_station,
    take_in,
)
from orchard.services.weather_days import (
    Day,
    Expected,
    Missing,
    expected,
    gaps,
    span,
    stations_of,
    unbroken,
)

# Thirty years of days, and a few over.
MOST_ROWS = 12_000

__all__ = [
    "DAYS",
    "FORECAST",
    "MOST_ROWS",
    "Choices",
    "Column",
    "Day",
    "Expected",
    "Fate",
    "Field",
    "Missing",
    "Month",
    "NewStation",
    "NoSuchStation",
    "NotTakenIn",
    "Preview",
    "RowFate",
    "Sort",
    "Taken",
    "add_station",
    "columns_for",
    "coming",
    "expected",
    "fields_of",
    "files",
    "gaps",
    "labels",
    "last_source",
    "month",
    "note_forecast",
    "note_reading",
    "preview",
    "span",
    "stations_of",
    "take_in",
    "unbroken",
    "withdraw_reading",
]
