"""Water: what air and trees use, what soil and pots hold, litres to give."""

from __future__ import annotations

from orchard.services.water.containers import container_depletion
from orchard.services.water.measurements import (
    Withdrawal,
    blocks_to_water,
    close_watering,
    correct_measurement,
    growing_in,
    measure_crown,
    note_watering,
    set_soil,
    soil_of,
    withdraw_measurement,
)
from orchard.services.water.per_tree import TreeGround, ground_of_tree, newest_crown
from orchard.services.water.root_zone import (
    RootWater,
    first_balance_day,
    read_root_water,
    root_zone_depletion,
)
from orchard.services.water.schedule import (
    Call,
    TreesAlike,
    TreeWater,
    WaterCalls,
    WaterSchedule,
    call_words,
    cap_words,
    count_water_calls,
    day_words,
    water_schedule,
)
from orchard.services.water.soil import soil_lately_seen

__all__ = [
    "Call",
    "TreesAlike",
    "TreeWater",
    "WaterCalls",
    "WaterSchedule",
    "Withdrawal",
    "call_words",
    "cap_words",
    "count_water_calls",
    "day_words",
    "water_schedule",
    "RootWater",
    "TreeGround",
    "blocks_to_water",
    "close_watering",
    "container_depletion",
    "correct_measurement",
    "first_balance_day",
    "ground_of_tree",
    "growing_in",
    "measure_crown",
    "newest_crown",
    "note_watering",
    "read_root_water",
    "root_zone_depletion",
    "set_soil",
    "soil_lately_seen",
    "soil_of",
    "withdraw_measurement",
]
