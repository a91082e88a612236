"""The sun's place among the stars, and how far the Earth has turned."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

FIRST_YEAR, LAST_YEAR = 1900, 2100

_J2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)
# Terrestrial Time runs ahead of UTC by about this much today; a minute of error moves
# the sun by 0.0007 degrees.
_AHEAD_OF_UTC = timedelta(seconds=69)


def _centuries(moment: datetime) -> float:
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise ValueError(
            f"when is {moment:%Y-%m-%d}; allowed is {FIRST_YEAR} to {LAST_YEAR}."
        )
    days = (moment + _AHEAD_OF_UTC - _J2000) / timedelta(days=1)
    return days / 36525.0


def hour_angle_and_declination(
    moment: datetime, longitude: float
) -> tuple[float, float]:
    """Return the sun's hour angle (degrees, west positive) and declination (radians).

    The hour angle is not reduced to one turn. Raises ValueError outside 1900 to 2100.
    """
    ascension, declination = apparent_sun(moment)
    turned = sidereal_degrees(moment) + longitude - math.degrees(ascension)
    return turned, declination


def apparent_sun(moment: datetime) -> tuple[float, float]:
    """Return the sun's apparent right ascension and declination, radians.

    Raises ValueError outside 1900 to 2100. Good to about 0.01 degrees.
    Meeus (1998), Astronomical Algorithms, chapter 25, low accuracy. From memory.
    """
    t = _centuries(moment)
    mean_longitude = 280.46646 + t * (36000.76983 + t * 0.0003032)
    anomaly = math.radians(357.52911 + t * (35999.05029 - t * 0.0001537))
    centre = (1.914602 - t * (0.004817 + t * 0.000014)) * math.sin(anomaly)
    centre += (0.019993 - t * 0.000101) * math.sin(2 * anomaly)
    centre += 0.000289 * math.sin(3 * anomaly)
    node = math.radians(125.04 - 1934.136 * t)
    apparent = math.radians(
        mean_longitude + centre - 0.00569 - 0.00478 * math.sin(node)
    )
    tilt = 23.4392911 - t * (0.0130042 + t * (1.64e-7 - t * 5.04e-7))
    obliquity = math.radians(tilt + 0.00256 * math.cos(node))
    ascension = math.atan2(math.cos(obliquity) * math.sin(apparent), math.cos(apparent))
    declination = math.asin(math.sin(obliquity) * math.sin(apparent))
    return ascension, declination


def sidereal_degrees(moment: datetime) -> float:
    """Return the apparent sidereal time at Greenwich, degrees, not reduced to a turn.

    Meeus (1998), Astronomical Algorithms, chapter 12. From memory.
    """
    days = (moment - _J2000) / timedelta(days=1)
    t = days / 36525.0
    mean = 280.46061837 + 360.98564736629 * days + t * t * 0.000387933
    node = math.radians(125.04 - 1934.136 * t)
    # Nutation in longitude times the cosine of the obliquity.
    return mean - 0.00478 * math.sin(node) * 0.9175
