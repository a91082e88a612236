"""Water needed by a tree, held by soil and by pots."""

from __future__ import annotations

from orchard.science.water.containers import (
    PotBalance,
    available_in_container,
    certain,
    container_balance,
    mouth_area,
    waterings_a_day,
)
from orchard.science.water.need import crop_coefficient_on, litres_per_tree
from orchard.science.water.root_zone import (
    Balance,
    Depletion,
    Turn,
    ZoneDay,
    available_water,
    counted_rain,
    depletion,
    ready_share,
    root_depth,
    root_zone_balance,
    strip_water,
    watering_turn,
)

__all__ = [
    "Balance",
    "Depletion",
    "PotBalance",
    "Turn",
    "ZoneDay",
    "available_in_container",
    "available_water",
    "certain",
    "container_balance",
    "counted_rain",
    "crop_coefficient_on",
    "depletion",
    "litres_per_tree",
    "mouth_area",
    "ready_share",
    "root_depth",
    "root_zone_balance",
    "strip_water",
    "watering_turn",
    "waterings_a_day",
]
