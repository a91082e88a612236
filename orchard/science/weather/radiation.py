"""The sun's energy over a day, after FAO-56 chapter 3."""

from __future__ import annotations

import math
from datetime import date

from orchard.science import arguments

SOLAR_CONSTANT = 0.0820  # MJ m-2 min-1, FAO-56 equation 21
STEFAN_BOLTZMANN = 4.903e-9  # MJ K-4 m-2 day-1, FAO-56 equation 39
REFERENCE_ALBEDO = 0.23  # FAO-56 equation 38
MM_PER_MJ = 0.408  # 1 / latent heat of 2.45 MJ kg-1, FAO-56 equation 20


def day_of_year(day: date) -> int:
    """Return the number of the day in its year, 1 to 366."""
    return arguments.day("day", day).timetuple().tm_yday


def inverse_relative_distance(day: date) -> float:
    """Return the inverse relative distance Earth to Sun, FAO-56 equation 23."""
    return 1 + 0.033 * math.cos(2 * math.pi / 365 * day_of_year(day))


def declination(day: date) -> float:
    """Return the sun's declination (radians), FAO-56 equation 24."""
    return 0.409 * math.sin(2 * math.pi / 365 * day_of_year(day) - 1.39)


def sunset_hour_angle(day: date, latitude: float) -> float:
    """Return the sunset hour angle (radians), FAO-56 equation 25.

    0 where the sun does not rise that day, pi where it does not set.
    """
    phi = math.radians(arguments.latitude(latitude))
    # Outside -1 to 1 there is no sunset: beyond the polar circles.
    cosine = -math.tan(phi) * math.tan(declination(day))
    return math.acos(max(-1.0, min(1.0, cosine)))


def extraterrestrial_radiation(day: date, latitude: float) -> float:
    """Return the sun's energy on a level surface above the air.

    Parameters
    ----------
    day : calendar day
    latitude : degrees, north positive

    Returns
    -------
    Energy, MJ m-2 day-1.

    Raises
    ------
    ValueError
        When the latitude is outside -90 to 90 degrees or the day is no calendar day.

    References
    ----------
    Allen et al. (1998), FAO-56, equation 21 with 23 to 25. Read.
    """
    angle = sunset_hour_angle(day, latitude)
    phi, delta = math.radians(latitude), declination(day)
    daily = angle * math.sin(phi) * math.sin(delta)
    daily += math.cos(phi) * math.cos(delta) * math.sin(angle)
    scale = 24 * 60 / math.pi * SOLAR_CONSTANT
    return max(scale * inverse_relative_distance(day) * daily, 0.0)


def daylight_hours(day: date, latitude: float) -> float:
    """Return the longest possible sunshine of a day.

    Parameters
    ----------
    day : calendar day
    latitude : degrees, north positive

    Returns
    -------
    Hours, 0 to 24: about 0.1 to 0.2 h shorter than official sunrise to sunset, which
    counts the sun's rim and the bending of light.

    Raises
    ------
    ValueError
        As `extraterrestrial_radiation`.

    References
    ----------
    Allen et al. (1998), FAO-56, equation 34. Read.
    """
    return 24 / math.pi * sunset_hour_angle(day, latitude)


def solar_from_sunshine(sunshine: float, daylight: float, above_air: float) -> float:
    """Return solar radiation (MJ m-2 day-1) from hours of sunshine, FAO-56 equation 35.

    A recorder may read up to half an hour more than FAO-56 daylight, whose geometry is
    a little short; that is taken as full sun. More than that is refused.
    """
    longest = arguments.number("daylight", daylight, "h", above=0.0, at_most=24.0)
    energy = arguments.number("extraterrestrial radiation", above_air, at_least=0.0)
    hours = arguments.number(
        "sunshine_hours", sunshine, "h", at_least=0.0, at_most=longest + 0.5
    )
    return (0.25 + 0.50 * min(hours / longest, 1.0)) * energy


def solar_from_temperatures(
    tmin: float, tmax: float, above_air: float, *, adjustment: float = 0.16
) -> float:
    """Return solar radiation (MJ m-2 day-1) from the day's range, FAO-56 equation 50.

    The adjustment is 0.16 for places inland and 0.19 on a coast.
    """
    low, high = arguments.day_range(tmin, tmax)
    energy = arguments.number("extraterrestrial radiation", above_air, at_least=0.0)
    factor = arguments.number("adjustment", adjustment, above=0.0, at_most=0.25)
    return factor * math.sqrt(high - low) * energy


def clear_sky(elevation: float, above_air: float) -> float:
    """Return clear-sky radiation (MJ m-2 day-1), FAO-56 equation 37; elevation in m."""
    metres = arguments.number("elevation", elevation, "m", at_least=-500, at_most=9000)
    return (0.75 + 2e-5 * metres) * above_air


def net_shortwave(solar: float) -> float:
    """Return what the reference grass keeps of the sun, FAO-56 equation 38."""
    return (1 - REFERENCE_ALBEDO) * solar


def net_longwave(
    tmin: float, tmax: float, vapour_kpa: float, solar: float, clear: float
) -> float:
    """Return the heat sent back to the sky (MJ m-2 day-1), FAO-56 equation 39.

    The share of clear-sky sun is held between 0.3 and 1: FAO-56 gives the upper bound
    (read); the lower is that of Allen et al. (2005), The ASCE standardized reference
    evapotranspiration equation, equation 18 (from memory). Without it the darkest
    clouds would seem to warm the ground.
    """
    low, high = arguments.day_range(tmin, tmax)
    clear_energy = arguments.number("clear-sky radiation", clear, above=0.0)
    kelvin = ((high + 273.16) ** 4 + (low + 273.16) ** 4) / 2
    dryness = 0.34 - 0.14 * math.sqrt(vapour_kpa)
    share = max(0.3, min(solar / clear_energy, 1.0))
    cloud = 1.35 * share - 0.35
    return STEFAN_BOLTZMANN * kelvin * dryness * cloud


def net(
    tmin: float, tmax: float, vapour_kpa: float, solar: float, clear: float
) -> float:
    """Return net radiation (MJ m-2 day-1), FAO-56 equation 40."""
    return net_shortwave(solar) - net_longwave(tmin, tmax, vapour_kpa, solar, clear)


def monthly_soil_heat(previous_mean: float, next_mean: float) -> float:
    """Return the month's soil heat flux (MJ m-2 day-1), FAO-56 equation 43."""
    before = arguments.temperature("previous_mean", previous_mean)
    after = arguments.temperature("next_mean", next_mean)
    return 0.07 * (after - before)
