"""Moist air: what it can hold, and what it holds."""

from __future__ import annotations

import math

from orchard.science import arguments

# Allen et al. (1998), FAO-56, equation 11 and Annex 3.
_E0_KPA = 0.6108
_SLOPE = 17.27
_OFFSET_C = 237.3
# FAO-56 equation 16, Asmann-type ventilated psychrometer, per °C.
VENTILATED_PSYCHROMETER = 0.000662


def saturation_vapour_pressure(t: float) -> float:
    """Return the vapour pressure of saturated air over liquid water.

    Parameters
    ----------
    t : air temperature, °C

    Returns
    -------
    Vapour pressure, kPa.

    Raises
    ------
    ValueError
        When t is missing or outside -90 to 70 °C.

    References
    ----------
    Allen, R. G., Pereira, L. S., Raes, D. & Smith, M. (1998), Crop evapotranspiration,
    FAO Irrigation and Drainage Paper 56, equation 11. Read.
    """
    return saturated(arguments.temperature("t", t))


def saturated(t: float) -> float:
    """Return FAO-56 equation 11 unchecked, for solvers that pass through odd values."""
    return _E0_KPA * math.exp(_SLOPE * t / (t + _OFFSET_C))


def mean_saturation_vapour_pressure(tmin: float, tmax: float) -> float:
    """Return the day's mean saturation vapour pressure (kPa), FAO-56 equation 12."""
    low, high = arguments.day_range(tmin, tmax)
    return (saturated(low) + saturated(high)) / 2


def slope_of_saturation(t: float) -> float:
    """Return the slope of the saturation curve (kPa per °C), FAO-56 equation 13."""
    celsius = arguments.temperature("t", t)
    return _SLOPE * _OFFSET_C * saturated(celsius) / (celsius + _OFFSET_C) ** 2


def pressure(elevation: float) -> float:
    """Return the usual air pressure at an elevation.

    Parameters
    ----------
    elevation : height above sea level, m, -500 to 9000

    Returns
    -------
    Pressure, kPa.

    Raises
    ------
    ValueError
        When the elevation is missing or out of range.

    References
    ----------
    Allen et al. (1998), FAO-56, equation 7. Read.
    """
    metres = arguments.number(
        "elevation", elevation, "m", at_least=-500.0, at_most=9000.0
    )
    return 101.3 * math.pow((293.0 - 0.0065 * metres) / 293.0, 5.26)


def psychrometric_constant(pressure_kpa: float) -> float:
    """Return the psychrometric constant (kPa per °C), FAO-56 equation 8."""
    kpa = arguments.number("pressure", pressure_kpa, "kPa", above=0.0, at_most=120.0)
    return 0.665e-3 * kpa


def vapour_pressure_from_wet_bulb(
    dry: float,
    wet: float,
    pressure_kpa: float,
    *,
    coefficient: float = VENTILATED_PSYCHROMETER,
) -> float:
    """Return the vapour pressure a dry and a wet bulb tell.

    Parameters
    ----------
    dry, wet : dry-bulb and wet-bulb temperature, °C
    pressure_kpa : air pressure, kPa
    coefficient : psychrometer coefficient, per °C

    Returns
    -------
    Actual vapour pressure, kPa.

    Raises
    ------
    ValueError
        When the wet bulb is warmer than the dry one, or the pair would need air drier
        than perfectly dry.

    References
    ----------
    Allen et al. (1998), FAO-56, equations 15 and 16. Read.
    """
    dry_c = arguments.temperature("dry", dry)
    wet_c = arguments.temperature("wet", wet)
    kpa = arguments.number("pressure", pressure_kpa, "kPa", above=0.0, at_most=120.0)
    factor = arguments.number("coefficient", coefficient, "per °C", above=0.0)
    if wet_c > dry_c:
        raise ValueError(
            f"wet is {wet_c:g} °C, dry is {dry_c:g} °C; allowed is wet <= dry."
        )
    pressure = saturated(wet_c) - factor * kpa * (dry_c - wet_c)
    if pressure < 0:
        raise ValueError(
            f"wet is {wet_c:g} °C at dry {dry_c:g} °C, which no air can show; "
            f"allowed is a wet bulb nearer to the dry one."
        )
    return pressure


def vapour_pressure(t: float, rh: float) -> float:
    """Return the vapour pressure (kPa) at a temperature (°C) and humidity (%)."""
    humidity = arguments.number("rh", rh, "%", at_least=0.0, at_most=100.0)
    return humidity / 100.0 * saturation_vapour_pressure(t)


def temperature_of_saturation(vapour_kpa: float) -> float:
    """Return the temperature (°C) at which air of that vapour pressure is saturated.

    FAO-56 equation 14, the inverse of equation 11.
    """
    kpa = arguments.number("vapour pressure", vapour_kpa, "kPa", above=0.0)
    ratio = math.log(kpa / _E0_KPA)
    return _OFFSET_C * ratio / (_SLOPE - ratio)


def dew_point(t: float, rh: float) -> float:
    """Return the temperature to which air must cool for dew to form.

    Parameters
    ----------
    t : air temperature, °C
    rh : relative humidity, %, above 0 to 100

    Returns
    -------
    Dew point over liquid water, °C; below 0 the frost point lies a little higher.

    Raises
    ------
    ValueError
        When the humidity is 0 (air without vapour has no dew point), outside 0 to
        100, or t has no meaning.

    References
    ----------
    Allen et al. (1998), FAO-56, equations 11 and 14 (Magnus-Tetens). Read. Constants of
    other authors differ by up to 0.07 °C.
    """
    arguments.number("rh", rh, "%", above=0.0, at_most=100.0)
    # Rounding must not put the dew point of saturated air above the air.
    return min(temperature_of_saturation(vapour_pressure(t, rh)), t)


def wet_bulb(t: float, rh: float, pressure: float) -> float:
    """Return the temperature of a ventilated wet bulb.

    Parameters
    ----------
    t : air temperature, °C
    rh : relative humidity, %, 0 to 100
    pressure : air pressure, kPa

    Returns
    -------
    Wet-bulb temperature over liquid water, °C, found to 1e-9.

    Raises
    ------
    ValueError
        When an argument has no meaning.

    References
    ----------
    Allen et al. (1998), FAO-56, equations 15 and 16, solved by halving. Read.
    """
    kpa = arguments.number("pressure", pressure, "kPa", above=0.0, at_most=120.0)
    pressure = vapour_pressure(t, rh)
    factor = VENTILATED_PSYCHROMETER * kpa
    high = float(t)
    low = max(high - (saturated(high) - pressure) / factor, -200.0)
    for _ in range(100):
        middle = (low + high) / 2
        if saturated(middle) - factor * (t - middle) < pressure:
            low = middle
        else:
            high = middle
    return high
