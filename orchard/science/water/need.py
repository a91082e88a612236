"""Water: what the air takes, what citrus needs of it, and litres for one tree."""

from __future__ import annotations

import math
from datetime import date, timedelta
from enum import StrEnum
from functools import lru_cache

from orchard.science import arguments, figures
from orchard.science.weather import (
    Reference,
    daylight_hours,
    extraterrestrial_radiation,
    hargreaves_et,
    reference_et,
    saturation_vapour_pressure,
    wind_at_2m,
)
from orchard.science.windows import day_in_season, season_year

# The names callers use; the physics lies in rooms of its own.
__all__ = [
    "CropStage",
    "GroundCover",
    "Reference",
    "crop_coefficient",
    "crop_coefficient_on",
    "daylight_hours",
    "extraterrestrial_radiation",
    "hargreaves_et",
    "litres_per_area",
    "litres_per_tree",
    "reference_et",
    "saturation_vapour_pressure",
    "wind_at_2m",
]


class GroundCover(StrEnum):
    """What grows between the trees."""

    BARE = "bare"
    COVERED = "covered"


class CropStage(StrEnum):
    """Which of FAO-56's three crop coefficients holds."""

    INITIAL = "initial"
    MID = "mid"
    END = "end"


def crop_coefficient(canopy_cover: float, ground_cover: str, stage: str) -> float:
    """Return the crop coefficient of citrus, for the whole ground area.

    Parameters
    ----------
    canopy_cover : share of the ground under crowns, 0 to 1
    ground_cover : "bare" or "covered" (a living cover or weeds)
    stage : "initial", "mid" or "end" of the season

    Returns
    -------
    Coefficient, without unit.

    Raises
    ------
    ValueError
        When the cover is not a share or a word is not one of those above.

    Notes
    -----
    The table has rows at 0.2, 0.5 and 0.7. Between them the value is read off a
    straight line; outside them the nearest row holds, because nothing is published.

    References
    ----------
    Allen et al. (1998), FAO-56, Table 12, citrus. Read.
    """
    share = arguments.number(
        "canopy_cover", canopy_cover, "(a share: 0.7 is 70 %)", at_least=0, at_most=1
    )
    _one_of("ground_cover", ground_cover, GroundCover)
    _one_of("stage", stage, CropStage)
    points = _published(ground_cover, stage)
    if share <= points[0][0]:
        return points[0][1]
    for (left, low), (right, high) in zip(points, points[1:], strict=False):
        if share <= right:
            return low + (high - low) * (share - left) / (right - left)
    return points[-1][1]


@lru_cache(maxsize=len(GroundCover) * len(CropStage))
def _published(ground_cover: str, stage: str) -> tuple[tuple[float, float], ...]:
    """Return the rows of the table for a ground and a stage: share and coefficient."""
    return tuple(
        sorted(
            (float(row["canopy"]), float(row[stage]))
            for row in figures.rows("crop_coefficient")
            if row["ground"] == ground_cover
        )
    )


@lru_cache(maxsize=64)
def _of_the_year(canopy_cover: float, ground_cover: str) -> tuple[float, float, float]:
    """Return the three coefficients of a year, which every day of it asks for."""
    initial, mid, end = (
        crop_coefficient(canopy_cover, ground_cover, stage) for stage in CropStage
    )
    return initial, mid, end


@lru_cache(maxsize=4096)
def crop_coefficient_on(
    day: date, latitude: float, canopy_cover: float, ground_cover: str
) -> float:
    """Return the crop coefficient of citrus on a day of the year.

    Parameters
    ----------
    day, latitude : calendar day; degrees, north positive
    canopy_cover, ground_cover : as for `crop_coefficient`

    Returns
    -------
    Coefficient, without unit.

    Raises
    ------
    ValueError
        As `crop_coefficient`, or for a latitude off the Earth.

    Notes
    -----
    The year of citrus begins with the second month of winter; the coefficient stays at
    its initial value, runs in a straight line to that of mid-season, stays there, and
    runs in a straight line to that of the end. South of the equator the year is
    shifted by six months.

    References
    ----------
    Allen et al. (1998), FAO-56, Tables 11 and 12, equation 66. Table 12 read, the rest
    from memory.
    """
    initial, mid, end = _of_the_year(canopy_cover, ground_cover)
    year = season_year(day, latitude)
    starts = day_in_season(year, 11, 1, latitude)
    if day < starts:
        starts = day_in_season(year - 1, 11, 1, latitude)
    stays, runs, holds = (
        timedelta(days=figures.figure(key).value)
        for key in ("season_initial_days", "season_development_days", "season_mid_days")
    )
    whole_year = timedelta(days=365)
    gone = day - starts
    if gone < stays:
        return initial
    if gone < stays + runs:
        return initial + (mid - initial) * ((gone - stays) / runs)
    if gone < stays + runs + holds:
        return mid
    late = whole_year - stays - runs - holds
    return mid + (end - mid) * min(1.0, (gone - stays - runs - holds) / late)


def _one_of(name: str, value: str, words: type[StrEnum]) -> None:
    allowed = [word.value for word in words]
    if value not in allowed:
        raise ValueError(f"{name} is {value!r}; allowed is {' or '.join(allowed)}.")


def litres_per_area(
    et0: float, kc: float, area: float, *, rain: float = 0.0, efficiency: float = 1.0
) -> float:
    """Return litres to give to an area, FAO-56's own convention for whole ground.

    Parameters
    ----------
    et0 : reference evapotranspiration of the span of time, mm
    kc : crop coefficient
    area : ground that belongs to the tree, m2 (spacing times spacing)
    rain : effective rain of the same span, mm
    efficiency : share of the water given that reaches the roots, above 0 to 1

    Returns
    -------
    Litres for the same span of time, at least 0 (1 mm on 1 m2 is 1 L).

    Raises
    ------
    ValueError
        When a number is negative, missing or, for efficiency, above 1.

    References
    ----------
    Allen et al. (1998), FAO-56, equation 58, times area. Read.
    """
    need = arguments.number("et0", et0, "mm", at_least=0.0) * arguments.number(
        "kc", kc, at_least=0.0, at_most=2.0
    )
    square_metres = arguments.number("area", area, "m2", at_least=0.0)
    fallen = arguments.number("rain", rain, "mm", at_least=0.0)
    share = arguments.number("efficiency", efficiency, above=0.0, at_most=1.0)
    return max(need - fallen, 0.0) * square_metres / share


def litres_per_tree(
    et0: float,
    kc: float,
    canopy_diameter: float,
    *,
    rain: float = 0.0,
    efficiency: float = 1.0,
) -> float:
    """Return litres to give to one tree, counted over its crown circle.

    Parameters
    ----------
    canopy_diameter : width of the crown, m
    et0, kc, rain, efficiency : as for `litres_per_area`

    Returns
    -------
    Litres for the same span of time as et0, at least 0.

    Raises
    ------
    ValueError
        As `litres_per_area`.

    Notes
    -----
    FAO's coefficient belongs to the whole ground of an orchard; the crown circle is
    the usual convention for trees standing alone and gives less than
    `litres_per_area`. Common practice, no source. A page must say which it shows.
    """
    across = arguments.number("canopy_diameter", canopy_diameter, "m", at_least=0.0)
    circle = math.pi / 4 * across**2
    return litres_per_area(et0, kc, circle, rain=rain, efficiency=efficiency)
