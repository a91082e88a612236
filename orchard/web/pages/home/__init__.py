"""Where everybody starts."""

from __future__ import annotations

from orchard.web.pages.home.first_day import first_day, first_page
from orchard.web.pages.home.views import home, start

__all__ = ["first_day", "first_page", "home", "start"]
