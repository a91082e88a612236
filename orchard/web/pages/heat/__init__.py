"""Heat since bloom."""

from __future__ import annotations

from orchard.web.pages.heat.views import heat_page

__all__ = ["heat_page"]
