"""Reference evapotranspiration: what the air takes from short green grass in a day."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from orchard.science import arguments, figures
from orchard.science.weather import air, radiation
from orchard.science.weather.radiation import daylight_hours, extraterrestrial_radiation


@dataclass(frozen=True, slots=True)
class Reference:
    """Reference evapotranspiration with what it was worked out from."""

    mm: float
    method: str
    estimated: tuple[str, ...]
    vapour_pressure: float
    wind_2m: float
    solar: float
    net_radiation: float
    source: str = "Allen et al. (1998), FAO Irrigation and Drainage Paper 56"


def wind_at_2m(speed: float, height: float) -> float:
    """Return wind speed (m/s) at 2 m from a reading at another height (m).

    Raises ValueError for a negative speed or a height outside 0.5 to 200 m.
    Allen et al. (1998), FAO-56, equation 47. Read.
    """
    metres_per_second = arguments.number("speed", speed, "m/s", at_least=0.0)
    metres = arguments.number("height", height, "m", at_least=0.5, at_most=200.0)
    return metres_per_second * 4.87 / math.log(67.8 * metres - 5.42)


def penman_monteith(
    t: float,
    net_radiation: float,
    soil_heat: float,
    wind_2m: float,
    deficit: float,
    pressure: float,
) -> float:
    """Return reference evapotranspiration (mm/day) from its six inputs.

    Temperature in °C, radiation and soil heat in MJ m-2 day-1, wind in m/s at 2 m,
    vapour pressure deficit and air pressure in kPa. A night that would bring dew gives
    0, since no water is then called for.
    Allen et al. (1998), FAO-56, equation 6. Read.
    """
    slope = air.slope_of_saturation(t)
    gamma = air.psychrometric_constant(pressure)
    wind = arguments.number("wind_2m", wind_2m, "m/s", at_least=0.0, at_most=100.0)
    from_sun = radiation.MM_PER_MJ * slope * (net_radiation - soil_heat)
    from_wind = gamma * 900.0 / (t + 273.0) * wind * deficit
    return max((from_sun + from_wind) / (slope + gamma * (1 + 0.34 * wind)), 0.0)


# Pages and jobs of a whole orchard reckon the same year of days again and again.
@lru_cache(maxsize=4096)
def reference_et(
    day: date,
    latitude: float,
    elevation: float,
    tmin: float,
    tmax: float,
    *,
    ea: float | None = None,
    rh_mean: float | None = None,
    rh_min: float | None = None,
    rh_max: float | None = None,
    wind_2m: float | None = None,
    solar: float | None = None,
    sunshine_hours: float | None = None,
) -> Reference:
    """Return the day's reference evapotranspiration, and say what was estimated.

    Parameters
    ----------
    day, latitude : calendar day; degrees, north positive
    elevation : m above sea level
    tmin, tmax : lowest and highest air temperature, °C
    ea : actual vapour pressure, kPa; otherwise from rh_max and rh_min, from rh_max
        alone, from rh_mean (all %), in this order
    wind_2m : mean wind speed at 2 m, m/s
    solar : solar radiation, MJ m-2 day-1; otherwise from sunshine_hours, h

    Returns
    -------
    Reference: `mm` per day, the values used, and in `estimated` the names of the
    inputs that were missing and had to be estimated.

    Raises
    ------
    ValueError
        When an input has no meaning: tmin above tmax, humidity outside 0 to 100 or
        rh_min above rh_max, rh_min without rh_max, more vapour than the warmest air of
        the day could hold, more sun than reaches the air, or a day without sunrise.

    Notes
    -----
    FAO-56's rules for missing data: vapour pressure as if dew formed at tmin
    (equation 48), wind 2 m/s (chapter 3), solar radiation from the day's range with
    the inland adjustment 0.16, at most a clear sky (equation 50). Soil heat is 0 for a
    day (equation 42).

    References
    ----------
    Allen et al. (1998), FAO-56, equation 6 and chapter 3. Examples read.
    """
    low, high = arguments.day_range(tmin, tmax)
    above_air = extraterrestrial_radiation(day, latitude)
    pressure = air.pressure(elevation)
    if above_air <= 0:
        raise ValueError(
            f"day is {day} at latitude {latitude:g}, when the sun does not rise; "
            f"allowed is a day with sunrise."
        )
    clear = radiation.clear_sky(elevation, above_air)
    estimated: list[str] = []
    vapour = _vapour(low, high, ea, rh_mean, rh_min, rh_max)
    if vapour is None:
        vapour = air.saturated(low)
        estimated.append("vapour pressure")
    if wind_2m is None:
        wind_2m = figures.figure("wind_when_unknown").value
        estimated.append("wind")
    if solar is not None:
        energy = arguments.number(
            "solar", solar, "MJ m-2 day-1", at_least=0.0, at_most=above_air
        )
    elif sunshine_hours is not None:
        longest = daylight_hours(day, latitude)
        energy = radiation.solar_from_sunshine(sunshine_hours, longest, above_air)
    else:
        energy = min(radiation.solar_from_temperatures(low, high, above_air), clear)
        estimated.append("solar radiation")
    net = radiation.net(low, high, vapour, energy, clear)
    # Equation 11 at both ends of the day; a negative deficit would be fog all day.
    deficit = max(air.mean_saturation_vapour_pressure(low, high) - vapour, 0.0)
    mean = (low + high) / 2
    return Reference(
        mm=penman_monteith(mean, net, 0.0, wind_2m, deficit, pressure),
        method="FAO-56 Penman-Monteith",
        estimated=tuple(estimated),
        vapour_pressure=vapour,
        wind_2m=wind_2m,
        solar=energy,
        net_radiation=net,
    )


def _vapour(
    tmin: float,
    tmax: float,
    ea: float | None,
    rh_mean: float | None,
    rh_min: float | None,
    rh_max: float | None,
) -> float | None:
    for name, value in (("rh_mean", rh_mean), ("rh_min", rh_min), ("rh_max", rh_max)):
        if value is not None:
            arguments.number(name, value, "%", at_least=0.0, at_most=100.0)
    most = air.saturated(tmax)
    if ea is not None:
        return arguments.number("ea", ea, "kPa", at_least=0.0, at_most=most)
    if rh_max is not None and rh_min is not None:
        if rh_min > rh_max:
            raise ValueError(
                f"rh_min is {rh_min:g} %, rh_max {rh_max:g} %; "
                f"allowed is rh_min <= rh_max."
            )
        # Equation 17: the moistest air is met at the coldest hour.
        moist, dry = air.saturated(tmin) * rh_max, air.saturated(tmax) * rh_min
        return (moist + dry) / 200.0
    if rh_max is not None:
        return air.saturated(tmin) * rh_max / 100.0  # equation 18
    if rh_mean is not None:
        return rh_mean / 100.0 * air.mean_saturation_vapour_pressure(tmin, tmax)  # 19
    if rh_min is not None:
        raise ValueError(
            "rh_min stands alone; allowed is rh_min together with rh_max, or rh_mean."
        )
    return None


def hargreaves_et(day: date, latitude: float, tmin: float, tmax: float) -> float:
    """Return reference evapotranspiration from temperatures alone.

    Parameters
    ----------
    day, latitude : calendar day; degrees, north positive
    tmin, tmax : lowest and highest air temperature, °C

    Returns
    -------
    mm/day, at least 0.

    Raises
    ------
    ValueError
        When tmin is above tmax or an argument has no meaning.

    Notes
    -----
    Radiation enters in mm of water per day, which is 0.408 times MJ m-2 day-1.

    References
    ----------
    Allen et al. (1998), FAO-56, equation 52. Read.
    """
    low, high = arguments.day_range(tmin, tmax)
    above_air = radiation.MM_PER_MJ * extraterrestrial_radiation(day, latitude)
    mean = (low + high) / 2
    return max(0.0023 * (mean + 17.8) * math.sqrt(high - low) * above_air, 0.0)
