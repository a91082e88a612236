"""What is ready to pick, and the tests."""

from __future__ import annotations

from orchard.web.pages.ripeness.forms import RipenessForm
from orchard.web.pages.ripeness.views import correction, index, new, withdrawal
from orchard.web.pages.ripeness.wording import test_text

__all__ = ["RipenessForm", "correction", "index", "new", "test_text", "withdrawal"]
