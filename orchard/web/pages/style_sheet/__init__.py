"""Every part in every state, for whoever changes the style."""

from __future__ import annotations

from orchard.web.pages.style_sheet.views import look

__all__ = ["look"]
