"""What a phone keeps without signal."""

from __future__ import annotations

from orchard.web.pages.offline.views import manifest, offline, outbox, worker

__all__ = ["manifest", "offline", "outbox", "worker"]
