"""A register of trees from a spreadsheet: checked row by row, saved whole."""

from __future__ import annotations

from orchard.services.imports.register.cells import LITRES_PER_US_GALLON
from orchard.services.imports.register.checking import preview
from orchard.services.imports.register.columns import FIELDS, count_recognised
from orchard.services.imports.register.saving import ImportedTrees, import_trees
from orchard.services.imports.register.shapes import RegisterChoices, RegisterPreview

__all__ = [
    "FIELDS",
    "LITRES_PER_US_GALLON",
    "ImportedTrees",
    "RegisterChoices",
    "RegisterPreview",
    "count_recognised",
    "import_trees",
    "preview",
]
