"""How it is computed."""

from __future__ import annotations

from orchard.web.pages.explained.views import index

__all__ = ["index"]
