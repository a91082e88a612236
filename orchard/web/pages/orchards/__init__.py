"""The orchard's details."""

from __future__ import annotations

from orchard.web.pages.orchards.views import details

__all__ = ["details"]
