"""Litres of the week, waterings, crowns."""

from __future__ import annotations

from orchard.web.pages.water.views import set_soil, week_of_water
from orchard.web.pages.water.watering import (
    correct_watering,
    measure_crown,
    note_watering,
    water_of_tree,
    withdraw_crown,
    withdraw_watering,
)

__all__ = [
    "correct_watering",
    "measure_crown",
    "note_watering",
    "set_soil",
    "water_of_tree",
    "week_of_water",
    "withdraw_crown",
    "withdraw_watering",
]
