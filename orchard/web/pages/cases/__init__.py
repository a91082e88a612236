"""Suspected regulated pests."""

from __future__ import annotations

from orchard.web.pages.cases.views import closure, index, show

__all__ = ["closure", "index", "show"]
