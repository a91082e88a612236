"""Where the sun stands, and how long it reaches a spot."""

from __future__ import annotations

from orchard.science.sun.hours import (
    Enough,
    SunPath,
    enough,
    higher_of,
    obstacle,
    position,
    rise_and_set,
    year_of_hours,
)

__all__ = [
    "Enough",
    "SunPath",
    "enough",
    "higher_of",
    "obstacle",
    "position",
    "rise_and_set",
    "year_of_hours",
]
