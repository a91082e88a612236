"""The kit of every import: a file read, its columns matched, its rows judged."""

from __future__ import annotations

from orchard.services.imports.sheets.columns import (
    LEFT_OUT,
    Field,
    SheetColumn,
    columns_of,
    fields_matched,
    labels,
    taken_twice,
)
from orchard.services.imports.sheets.days import MONTHS, day_in, day_order, year_in
from orchard.services.imports.sheets.faults import numbers_in, span_of
from orchard.services.imports.sheets.headings import (
    ROWS_LOOKED_AT,
    Line,
    Sheet,
    with_headings_in,
)
from orchard.services.imports.sheets.leaving_out import carried_over, divided
from orchard.services.imports.sheets.reading import MOST_ROWS, read_sheet
from orchard.services.imports.sheets.rows import (
    RowResult,
    SheetChoices,
    SheetPreview,
    cells_by_field,
)
from orchard.services.imports.sheets.saving import (
    BATCH,
    require_complete,
    whole_or_nothing,
)

__all__ = [
    "BATCH",
    "LEFT_OUT",
    "MONTHS",
    "MOST_ROWS",
    "ROWS_LOOKED_AT",
    "Field",
    "Line",
    "RowResult",
    "Sheet",
    "SheetChoices",
    "SheetColumn",
    "SheetPreview",
    "carried_over",
    "cells_by_field",
    "columns_of",
    "day_in",
    "day_order",
    "divided",
    "fields_matched",
    "labels",
    "numbers_in",
    "read_sheet",
    "require_complete",
    "span_of",
    "taken_twice",
    "whole_or_nothing",
    "with_headings_in",
    "year_in",
]
