"""Water needed by a tree, held by soil and by pots."""

from __future__ import annotations

from orchard.science.water.containers import (
    PotBalance,
    available_in_container,
    certain,
    container_balance,
    mouth_area,
)
from orchard.science.water.need import crop_coefficient_on, litres_per_tree
from orchard.science.water.root_zone import (
    Balance,
    available_water,
    counted_rain,
    last_full,
    root_zone_balance,
)

__all__ = [
    "Balance",
    "PotBalance",
    "available_in_container",
    "available_water",
    "certain",
    "container_balance",
    "counted_rain",
    "crop_coefficient_on",
    "last_full",
    "litres_per_tree",
    "mouth_area",
    "root_zone_balance",
]
