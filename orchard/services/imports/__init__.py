"""Tables that people bring: one kit for reading them, a room for each kind."""

from __future__ import annotations

from orchard.services.imports.days import day_in, order_told_by
from orchard.services.imports.sheet import Sheet, read_sheet

__all__ = ["Sheet", "day_in", "order_told_by", "read_sheet"]
