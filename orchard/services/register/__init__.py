"""A register of trees from a spreadsheet: read, looked through, taken in whole."""

from __future__ import annotations

from orchard.services.register.columns import FIELDS, Column, columns_for
from orchard.services.register.looking import preview
from orchard.services.register.shapes import Choices, Fate, Preview, RowFate
from orchard.services.register.taking import NotTakenIn, Taken, take_in
from orchard.services.tables import NotReadable, Sheet, read

__all__ = [
    "FIELDS",
    "Choices",
    "Column",
    "Fate",
    "NotReadable",
    "NotTakenIn",
    "Preview",
    "RowFate",
    "Sheet",
    "Taken",
    "columns_for",
    "preview",
    "read",
    "take_in",
]
