"""The night ahead and the night as it was."""

from __future__ import annotations

from orchard.web.pages.frost.views import frost_night, frost_work, night

__all__ = ["frost_night", "frost_work", "night"]
