"""Sun hours: horizons as surveyed, and the direct sun of each spot."""

from __future__ import annotations

from orchard.services.sun_hours.horizons import survey_horizon
from orchard.services.sun_hours.yearly import (
    Obstacle,
    SunYear,
    newest_horizon,
    spots,
    tally_spots,
    year_of_spot,
)

__all__ = [
    "Obstacle",
    "SunYear",
    "newest_horizon",
    "spots",
    "survey_horizon",
    "tally_spots",
    "year_of_spot",
]
