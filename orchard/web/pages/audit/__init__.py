"""The ledger page."""

from __future__ import annotations

from orchard.web.pages.audit.views import ledger

__all__ = ["ledger"]
