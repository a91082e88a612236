"""The health check."""

from __future__ import annotations

from orchard.web.pages.health.views import up

__all__ = ["up"]
