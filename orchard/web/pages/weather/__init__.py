"""Weather month by month, readings and forecasts."""

from __future__ import annotations

from orchard.web.pages.weather.story import first_days
from orchard.web.pages.weather.views import forecast, index, reading, reading_withdrawal

__all__ = ["first_days", "forecast", "index", "reading", "reading_withdrawal"]
