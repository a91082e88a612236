"""Heat units since bloom, and what they lead to by past years."""

from __future__ import annotations

from orchard.services.heat.units import GroupHeat, heat_of_groups

__all__ = ["GroupHeat", "heat_of_groups"]
