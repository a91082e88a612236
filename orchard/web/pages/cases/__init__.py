"""Suspected regulated pests."""

from __future__ import annotations

from orchard.web.pages.cases.views import closure, index, note_call, show

__all__ = ["closure", "index", "note_call", "show"]
