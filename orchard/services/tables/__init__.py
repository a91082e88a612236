"""Tables that people send: CSV and XLSX files, and the days in their cells."""

from __future__ import annotations

from orchard.services.tables.days import CellRefused, TwoWays, day_in, order_told_by
from orchard.services.tables.reading import MOST_ROWS, NotReadable, Sheet, read, written

__all__ = [
    "MOST_ROWS",
    "CellRefused",
    "NotReadable",
    "Sheet",
    "TwoWays",
    "day_in",
    "order_told_by",
    "read",
    "written",
]
