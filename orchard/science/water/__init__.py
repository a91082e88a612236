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
    WateringSpan,
    ZoneDay,
    available_water,
    counted_rain,
    depletion,
    ready_share,
    root_depth,
    root_zone_balance,
    strip_water,
    watering_span,
)

__all__ = [
    "Balance",
    "Depletion",
    "PotBalance",
    "WateringSpan",
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
    "watering_span",
    "waterings_a_day",
]
