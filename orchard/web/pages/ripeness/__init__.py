"""What is ready to pick, and the tests."""

from __future__ import annotations

from orchard.web.pages.ripeness.views import correction, index, new, withdrawal

__all__ = ["correction", "index", "new", "withdrawal"]
