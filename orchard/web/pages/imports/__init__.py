"""Tables that people bring."""

from __future__ import annotations

from orchard.web.pages.imports.register import example_register, import_trees
from orchard.web.pages.imports.weather import import_weather

__all__ = ["example_register", "import_trees", "import_weather"]
