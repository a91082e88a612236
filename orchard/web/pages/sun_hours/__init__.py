"""Sun hours of each spot."""

from __future__ import annotations

from orchard.web.pages.sun_hours.views import horizon_new, index, show, withdrawal

__all__ = ["horizon_new", "index", "show", "withdrawal"]
