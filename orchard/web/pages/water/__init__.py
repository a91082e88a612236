"""When to water, waterings, crowns."""

from __future__ import annotations

from orchard.web.pages.water.forms import WateringForm
from orchard.web.pages.water.views import headline, set_soil, water_schedule
from orchard.web.pages.water.watering import (
    correct_watering,
    measure_crown,
    note_watering,
    trees_watered,
    water_of_tree,
    withdraw_crown,
    withdraw_watering,
)

__all__ = [
    "WateringForm",
    "correct_watering",
    "headline",
    "measure_crown",
    "note_watering",
    "set_soil",
    "trees_watered",
    "water_of_tree",
    "water_schedule",
    "withdraw_crown",
    "withdraw_watering",
]
