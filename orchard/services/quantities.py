"""A stored quantity, written in a sentence as an orchard reads it."""

from __future__ import annotations

from django.utils.formats import number_format

from orchard.science.units import shown


def quantity(value: float, unit: str, system: str) -> str:
    """Write a value that is stored in `unit` with its unit in an orchard's system."""
    figure, own_unit = shown(value, unit, system)
    return f"{number_text(figure)} {own_unit}".strip()


def quantity_range(low: float, high: float, unit: str, system: str) -> str:
    """Write the two ends between which a value may lie: "-90 to 60 °C"."""
    least, _unit = shown(low, unit, system)
    return f"{number_text(least)} to {quantity(high, unit, system)}"


def number_text(value: float) -> str:
    """Write a number with at most two decimals, and none that say nothing."""
    rounded = round(value, 2)
    if rounded == int(rounded):
        return str(number_format(int(rounded), force_grouping=abs(rounded) >= 10_000))
    return str(number_format(rounded))
