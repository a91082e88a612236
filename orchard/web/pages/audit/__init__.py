"""The ledger page."""

from __future__ import annotations

from orchard.web.pages.audit.views import ledger, ledger_export

__all__ = ["ledger", "ledger_export"]
