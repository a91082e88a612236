"""The answer when the database or the disk does not do its part."""

from __future__ import annotations

from orchard.web.pages.outages.views import server_error

__all__ = ["server_error"]
