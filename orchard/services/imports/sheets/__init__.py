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
from orchard.services.imports.sheets.days import day_in, day_order
from orchard.services.imports.sheets.reading import MOST_ROWS, Sheet, read_sheet
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
    "MOST_ROWS",
    "Field",
    "RowResult",
    "Sheet",
    "SheetChoices",
    "SheetColumn",
    "SheetPreview",
    "cells_by_field",
    "columns_of",
    "day_in",
    "day_order",
    "fields_matched",
    "labels",
    "read_sheet",
    "require_complete",
    "taken_twice",
    "whole_or_nothing",
]
