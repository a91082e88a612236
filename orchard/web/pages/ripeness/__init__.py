"""What is ready to pick, and the tests."""

from __future__ import annotations

from orchard.web.pages.ripeness.views import correction, index, new, withdrawal
from orchard.web.pages.ripeness.wording import kind_text

__all__ = ["correction", "index", "kind_text", "new", "withdrawal"]
