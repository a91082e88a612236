"""Weather files and single readings: checked row by row, saved whole."""

from __future__ import annotations

from orchard.services.imports.weather_files.checking import fields_of, preview
from orchard.services.imports.weather_files.columns import (
    DAYS,
    FORECAST,
    MOST_ROWS,
    columns_for,
    labels,
)
from orchard.services.imports.weather_files.manual_entry import (
    note_forecast,
    note_reading,
    withdraw_reading,
)
from orchard.services.imports.weather_files.saving import (
    Imported,
    NewStation,
    import_days,
)
from orchard.services.imports.weather_files.shapes import Choices, Preview, Sort

__all__ = [
    "DAYS",
    "FORECAST",
    "MOST_ROWS",
    "Choices",
    "Imported",
    "NewStation",
    "Preview",
    "Sort",
    "columns_for",
    "fields_of",
    "import_days",
    "labels",
    "note_forecast",
    "note_reading",
    "preview",
    "withdraw_reading",
]
