"""Air, radiation and reference evapotranspiration."""

from __future__ import annotations

from orchard.science.weather.air import dew_point, saturation_vapour_pressure, wet_bulb
from orchard.science.weather.evapotranspiration import (
    Reference,
    hargreaves_et,
    reference_et,
    wind_at_2m,
)
from orchard.science.weather.neighbours import Likeness, likeness
from orchard.science.weather.radiation import daylight_hours, extraterrestrial_radiation

__all__ = [
    "Likeness",
    "Reference",
    "daylight_hours",
    "dew_point",
    "extraterrestrial_radiation",
    "hargreaves_et",
    "likeness",
    "reference_et",
    "saturation_vapour_pressure",
    "wet_bulb",
    "wind_at_2m",
]
