"""The outlook: one line for each matter."""

from __future__ import annotations

from orchard.web.pages.outlook.views import index

__all__ = ["index"]
