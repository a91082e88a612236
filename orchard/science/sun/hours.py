"""Where the sun stands, and how long it reaches a spot past what surrounds it."""

from __future__ import annotations

import math
from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from itertools import pairwise

from orchard.science import arguments, figures
from orchard.science.sun import ephemeris

# Centre of the sun at rise and set: 16' of radius and 34' of bent light.
_RISE_ELEVATION = -0.8333
_MINUTES_OF_DAY = 1440

Horizon = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Daylight:
    """Sunrise and sunset of one day, both in UTC."""

    rises_at: datetime
    sets_at: datetime

    @property
    def hours(self) -> float:
        """Return the hours from sunrise to sunset."""
        return (self.sets_at - self.rises_at).total_seconds() / 3600


def position(when: datetime, latitude: float, longitude: float) -> tuple[float, float]:
    """Return where the sun is seen to stand.

    Parameters
    ----------
    when : moment with its time zone
    latitude, longitude : degrees, north and east positive

    Returns
    -------
    (elevation, azimuth), degrees: elevation as seen through the air, above the level
    horizon; azimuth clockwise from true north, 0 to below 360.

    Raises
    ------
    ValueError
        When the moment has no time zone or lies outside 1900 to 2100, or the place is
        not on Earth.

    Notes
    -----
    Good to about 0.01 degrees; the azimuth loses meaning at the zenith. Refraction is
    that of 1010 hPa and 10 °C, and is left out while the whole disc is under the
    horizon.

    References
    ----------
    Meeus, J. (1998), Astronomical Algorithms, 2nd edition, chapters 12, 13, 16, 22 and
    25 (low accuracy). From memory. Checked against Reda, I. & Andreas, A. (2004),
    Solar position algorithm for solar radiation applications, NREL/TP-560-34302.
    """
    elevation, azimuth = geometric_position(when, latitude, longitude)
    return elevation + _refraction(elevation), azimuth


def geometric_position(
    when: datetime, latitude: float, longitude: float
) -> tuple[float, float]:
    """Return (elevation, azimuth) in degrees as `position`, without refraction."""
    moment = arguments.moment("when", when)
    phi = math.radians(arguments.latitude(latitude))
    east = arguments.longitude(longitude)
    turned, declination = ephemeris.hour_angle_and_declination(moment, east)
    return _seen_from(phi, math.radians(turned), declination)


def rise_and_set(day: date, latitude: float, longitude: float) -> Daylight | None:
    """Return sunrise and sunset of a day.

    Parameters
    ----------
    day : calendar day at the place
    latitude, longitude : degrees, north and east positive

    Returns
    -------
    Daylight in UTC, or None when the sun stays up or down all day. Good to about half
    a minute in middle latitudes.

    Raises
    ------
    ValueError
        When the day is outside 1900 to 2100 or the place is not on Earth.

    References
    ----------
    Meeus (1998), Astronomical Algorithms, chapter 15, standard altitude -0.8333
    degrees. From memory.
    """
    phi = math.radians(arguments.latitude(latitude))
    noon = _mean_noon(day, longitude)
    found: list[datetime] = []
    for side in (-1, 1):
        moment = noon
        for _ in range(6):
            now, declination = ephemeris.hour_angle_and_declination(moment, longitude)
            cosine = (
                math.sin(math.radians(_RISE_ELEVATION))
                - math.sin(phi) * math.sin(declination)
            ) / max(math.cos(phi) * math.cos(declination), 1e-12)
            if not -1.0 <= cosine <= 1.0:
                return None
            goal = side * math.degrees(math.acos(cosine))
            # The sun's hour angle grows by 360 degrees in a day.
            error = (goal - now + 180.0) % 360.0 - 180.0
            moment += timedelta(days=error / 360.0)
        found.append(moment)
    return Daylight(rises_at=found[0], sets_at=found[1])


def direct_hours(
    day: date,
    latitude: float,
    longitude: float,
    horizon: Iterable[tuple[float, float]],
    *,
    step_minutes: int = 5,
) -> float:
    """Return how long direct sun can reach a spot on a clear day.

    Parameters
    ----------
    day : calendar day at the place
    latitude, longitude : degrees, north and east positive
    horizon : (azimuth, elevation) of what hides the sky as seen from the spot, degrees,
        azimuth 0 to 360, elevation 0 to 90; straight lines between the points all
        around the circle. Two points of one azimuth make an upright edge, in the order
        given. No points at all is an open level horizon.
    step_minutes : length of a step, a divisor of 60

    Returns
    -------
    Hours in which the sun's centre stands above the horizon line and above level.

    Raises
    ------
    ValueError
        When a point of the horizon, the step, the day or the place has no meaning.

    Notes
    -----
    The sun is looked at in the middle of each step, without refraction, so the answer
    is good to about 0.05 h at 1 minute and 0.35 h at 10 minutes. Clouds are not known.

    References
    ----------
    Position as in `position`; the count is plain arithmetic.
    """
    phi = math.radians(arguments.latitude(latitude))
    skyline = _Skyline.from_points(horizon)
    return _hours(day, phi, longitude, skyline, _step(step_minutes))


def year_of_hours(
    year: int,
    latitude: float,
    longitude: float,
    horizon: Iterable[tuple[float, float]],
    *,
    step_minutes: int = 5,
) -> list[float]:
    """Return the mean daily hours of direct sun for each month, January first.

    Arguments, errors and notes as for `direct_hours`; every day of the year is counted.
    For many spots of one place make its `SunPath` once.
    """
    path = SunPath.over(year, latitude, longitude, step_minutes=step_minutes)
    return path.hours_past(horizon)


@dataclass(frozen=True, slots=True)
class SunPath:
    """Where the sun stands over a place through a year, for all the spots there.

    For each month its days, and the azimuths and elevations (degrees) of the sun in the
    middle of each step in which it is above level, by azimuth.
    """

    step_minutes: int
    months: tuple[tuple[int, array[float], array[float]], ...]

    @classmethod
    def over(
        cls, year: int, latitude: float, longitude: float, *, step_minutes: int = 5
    ) -> SunPath:
        """Follow the sun; arguments and errors as for `direct_hours`."""
        first, last = ephemeris.FIRST_YEAR, ephemeris.LAST_YEAR
        arguments.whole("year", year, at_least=first, at_most=last)
        phi = math.radians(arguments.latitude(latitude))
        step = _step(step_minutes)
        months = []
        for month in range(1, 13):
            day = date(year, month, 1)
            places: list[tuple[float, float]] = []
            while day.month == month:
                places += _places(day, phi, longitude, step)
                day += timedelta(days=1)
            places.sort()
            months.append(
                (
                    (day - date(year, month, 1)).days,
                    array("d", [azimuth for azimuth, _up in places]),
                    array("d", [up for _azimuth, up in places]),
                )
            )
        return cls(step, tuple(months))

    def hours_past(self, horizon: Iterable[tuple[float, float]]) -> list[float]:
        """Return what `year_of_hours` does, past the horizon of one spot."""
        skyline = _Skyline.from_points(horizon)
        return [
            skyline.count_above(azimuths, elevations) * self.step_minutes / 60 / days
            for days, azimuths, elevations in self.months
        ]


def obstacle(
    azimuth: float, distance: float, height: float, width: float
) -> list[tuple[float, float]]:
    """Return the skyline of an upright wall, or of a tree taken as wide as it is.

    Parameters
    ----------
    azimuth : direction of its middle from the spot, degrees clockwise from true north
    distance : from the spot to its middle, m
    height : of its top above the height from which the sky is looked at, m
    width : across, facing the spot, m

    Returns
    -------
    (azimuth, elevation) points of its edge, degrees, from left to right, beginning and
    ending at level. A wall across north crosses 360 to 0.

    Raises
    ------
    ValueError
        When a number has no meaning: distance and width above 0, height at least 0.

    References
    ----------
    Plane geometry: along a ray that leaves the middle by an angle a, the wall stands
    distance / cos a away and its top at atan(height cos a / distance).
    """
    middle = arguments.number("azimuth", azimuth, "degrees", at_least=0, at_most=360)
    away = arguments.number("distance", distance, "m", above=0.0, at_most=1000.0)
    top = arguments.number("height", height, "m", at_least=0.0, at_most=500.0)
    across = arguments.number("width", width, "m", above=0.0, at_most=1000.0)
    half = math.degrees(math.atan2(across / 2, away))
    steps = max(2, math.ceil(half))
    edge = []
    for step in range(-steps, steps + 1):
        aside = half * step / steps
        up = math.degrees(math.atan2(top * math.cos(math.radians(aside)), away))
        edge.append(((middle + aside) % 360.0, up))
    return [(edge[0][0], 0.0), *edge, (edge[-1][0], 0.0)]


def higher_of(
    horizon: Iterable[tuple[float, float]], other: Iterable[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Return the skyline of two together: degree by degree the higher of both.

    Points as for `direct_hours`, with its errors; read at every half degree, so that
    an upright edge may lean by as much.
    """
    first, second = _Skyline.from_points(horizon), _Skyline.from_points(other)
    return [
        (half / 2, max(first.elevation(half / 2), second.elevation(half / 2)))
        for half in range(720)
    ]


def skyline_at(horizon: Iterable[tuple[float, float]], azimuth: float) -> float:
    """Return how high the horizon stands in a direction, degrees; errors as above."""
    around = arguments.number("azimuth", azimuth, "degrees", at_least=0, at_most=360)
    return _Skyline.from_points(horizon).elevation(around)


class Enough(StrEnum):
    """Whether a place has sun enough for citrus."""

    TOO_LITTLE = "too_little"
    LITTLE = "little"
    ENOUGH = "enough"
    GOOD = "good"


def enough(hours: float) -> Enough:
    """Return how a mean of direct sun in a day (hours) is for citrus.

    Raises ValueError outside 0 to 24. The limits are figures of the guide: common
    practice, no source.
    """
    lit = arguments.number("hours", hours, "h", at_least=0.0, at_most=24.0)
    if lit < figures.figure("sun_too_little_h").value:
        return Enough.TOO_LITTLE
    if lit < figures.figure("sun_needed_h").value:
        return Enough.LITTLE
    return Enough.GOOD if lit >= figures.figure("sun_good_h").value else Enough.ENOUGH


def _hours(
    day: date, phi: float, longitude: float, skyline: _Skyline, step: int
) -> float:
    lit = sum(
        elevation > skyline.elevation(azimuth)
        for azimuth, elevation in _places(day, phi, longitude, step)
    )
    return lit * step / 60


def _places(
    day: date, phi: float, longitude: float, step: int
) -> Iterator[tuple[float, float]]:
    """Yield where the sun is in the middle of each step in which it is above level."""
    noon = _mean_noon(day, longitude)
    steps = _MINUTES_OF_DAY // step
    # Over one day the sun's place changes slowly: two looks and a straight line between
    # them stay within 0.001 degrees.
    half = timedelta(hours=12)
    hour_angles, declinations = [], []
    for moment in (noon - half, noon + half):
        turned, declination = ephemeris.hour_angle_and_declination(moment, longitude)
        hour_angles.append((turned + 180.0) % 360.0 - 180.0)
        declinations.append(declination)
    # Both looks are near lower transit; the day between them is a whole turn.
    start = hour_angles[0] if hour_angles[0] < 0 else hour_angles[0] - 360.0
    end = hour_angles[1] if hour_angles[1] > 0 else hour_angles[1] + 360.0
    up_to = max(_risen_up_to(phi, declination) for declination in declinations)
    for index in range(steps):
        share = (index + 0.5) / steps
        hour_angle = start + (end - start) * share
        if up_to < abs(hour_angle) < 360.0 - up_to:
            continue
        elevation, azimuth = _seen_from(
            phi,
            math.radians(hour_angle),
            declinations[0] + (declinations[1] - declinations[0]) * share,
        )
        if elevation > 0:
            yield azimuth, elevation


def _risen_up_to(phi: float, declination: float) -> float:
    """Return the hour angle, degrees, beyond which the sun is below level."""
    cosine = -math.tan(phi) * math.tan(declination)
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


@dataclass(frozen=True, slots=True)
class _Skyline:
    azimuths: tuple[float, ...]
    elevations: tuple[float, ...]

    @classmethod
    def from_points(cls, horizon: Iterable[tuple[float, float]]) -> _Skyline:
        points = []
        for azimuth, elevation in horizon:
            around = arguments.number(
                "horizon azimuth", azimuth, "degrees", at_least=0.0, at_most=360.0
            )
            up = arguments.number(
                "horizon elevation", elevation, "degrees", at_least=0.0, at_most=90.0
            )
            points.append((around, up))
        # Stable, so that an upright edge keeps the order in which it was given.
        points.sort(key=lambda point: point[0])
        if not points:
            return cls((), ())
        first, last = points[0], points[-1]
        # The line closes round the circle: the neighbours beyond north are repeated.
        closed = [(last[0] - 360.0, last[1]), *points, (first[0] + 360.0, first[1])]
        return cls(
            tuple(azimuth for azimuth, _ in closed),
            tuple(elevation for _, elevation in closed),
        )

    def elevation(self, azimuth: float) -> float:
        if not self.azimuths:
            return 0.0
        right = bisect_right(self.azimuths, azimuth)
        right = min(max(right, 1), len(self.azimuths) - 1)
        span = self.azimuths[right] - self.azimuths[right - 1]
        if span <= 0:
            return self.elevations[right]
        share = (azimuth - self.azimuths[right - 1]) / span
        low, high = self.elevations[right - 1], self.elevations[right]
        return low + (high - low) * share

    def count_above(self, azimuths: array[float], elevations: array[float]) -> int:
        """Count the places above the line; they are sorted by azimuth, 0 to 360."""
        if not self.azimuths:
            return len(azimuths)
        above = 0
        corners = zip(self.azimuths, self.elevations, strict=True)
        for (left, low), (right, high) in pairwise(corners):
            span = right - left
            part = slice(bisect_left(azimuths, left), bisect_left(azimuths, right))
            places = zip(azimuths[part], elevations[part], strict=True)
            above += sum(
                [
                    up > low + (high - low) * ((azimuth - left) / span)
                    for azimuth, up in places
                ]
            )
        return above


def _step(step_minutes: int) -> int:
    step = arguments.whole("step_minutes", step_minutes, "min", at_least=1, at_most=60)
    if 60 % step:
        raise ValueError(f"step_minutes is {step}; allowed is a divisor of 60.")
    return step


def _mean_noon(day: date, longitude: float) -> datetime:
    east = arguments.longitude(longitude)
    noon = datetime.combine(arguments.day("day", day), time(12), tzinfo=UTC)
    return noon - timedelta(hours=east / 15)


def _seen_from(
    phi: float, hour_angle: float, declination: float
) -> tuple[float, float]:
    sine = math.sin(phi) * math.sin(declination)
    sine += math.cos(phi) * math.cos(declination) * math.cos(hour_angle)
    elevation = math.degrees(math.asin(max(-1.0, min(1.0, sine))))
    # The sun is 8.8" lower from the surface than from the centre of the Earth.
    elevation -= 0.00244 * math.cos(math.radians(elevation))
    west = math.sin(hour_angle)
    south = math.cos(hour_angle) * math.sin(phi) - math.tan(declination) * math.cos(phi)
    azimuth = (math.degrees(math.atan2(west, south)) + 180.0) % 360.0
    return elevation, azimuth


def _refraction(elevation: float) -> float:
    if elevation < _RISE_ELEVATION:
        return 0.0
    # Saemundsson (1986), as given by Meeus, chapter 16; degrees.
    bent = 1.02 / math.tan(math.radians(elevation + 10.3 / (elevation + 5.11))) / 60.0
    return max(bent, 0.0)
