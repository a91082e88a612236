"""What phones send."""

from __future__ import annotations

from orchard.web.pages.inbox.views import inbox_page

__all__ = ["inbox_page"]
