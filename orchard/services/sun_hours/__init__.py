"""Sun hours: horizons as surveyed, and the direct sun of each spot."""

from __future__ import annotations

from orchard.services.sun_hours.horizons import last_declination, survey_horizon
from orchard.services.sun_hours.yearly import (
    Obstacle,
    Points,
    SunTally,
    SunYear,
    check_obstacle,
    keep_years,
    newest_horizon,
    spots,
    tally_spots,
    year_of_spot,
)

__all__ = [
    "Obstacle",
    "Points",
    "SunTally",
    "SunYear",
    "check_obstacle",
    "keep_years",
    "last_declination",
    "newest_horizon",
    "spots",
    "survey_horizon",
    "tally_spots",
    "year_of_spot",
]
