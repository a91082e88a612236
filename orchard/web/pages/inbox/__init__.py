"""What phones send."""

from __future__ import annotations

from orchard.web.pages.inbox.views import PAUSE, inbox_page, wait_for_server

__all__ = ["PAUSE", "inbox_page", "wait_for_server"]
