"""Weather files and single readings: checked row by row, saved whole."""

from __future__ import annotations

from orchard.services.imports.weather_files.checking import preview
from orchard.services.imports.weather_files.columns import (
    DAYS,
    FORECAST,
    MOST_ROWS,
    count_recognised,
    fields_of,
    labels,
    mapping_of,
)
from orchard.services.imports.weather_files.manual_entry import (
    note_forecast,
    note_reading,
    withdraw_reading,
)
from orchard.services.imports.weather_files.saving import (
    ImportedDays,
    NewStation,
    import_days,
)
from orchard.services.imports.weather_files.shapes import (
    Sort,
    WeatherChoices,
    WeatherPreview,
)

__all__ = [
    "DAYS",
    "FORECAST",
    "MOST_ROWS",
    "ImportedDays",
    "NewStation",
    "Sort",
    "WeatherChoices",
    "WeatherPreview",
    "count_recognised",
    "fields_of",
    "import_days",
    "labels",
    "mapping_of",
    "note_forecast",
    "note_reading",
    "preview",
    "withdraw_reading",
]
