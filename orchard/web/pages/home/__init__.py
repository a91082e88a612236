"""Where everybody starts."""

from __future__ import annotations

from orchard.web.pages.home.views import home, start

__all__ = ["home", "start"]
