"""Heat units since bloom, and what they lead to by past years."""

from __future__ import annotations

from orchard.services.heat.seasons import HeatSeason
from orchard.services.heat.units import GroupHeat, first_heat_day, heat_of_groups

__all__ = ["GroupHeat", "HeatSeason", "first_heat_day", "heat_of_groups"]
