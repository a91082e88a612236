"""House rules and the pest list."""

from __future__ import annotations

from orchard.web.pages.house_rules.views import index, lifting, pests, show

__all__ = ["index", "lifting", "pests", "show"]
