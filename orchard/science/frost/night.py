"""How a clear night cools: its minimum from the evening, and the way down to it."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from orchard.science import arguments, figures

_FIRST_HOUR = 2.0  # the regression and the curve both begin 2 h after sunset
_FEWEST_NIGHTS = 4  # as many as there are coefficients


class NightObservation(NamedTuple):
    """One clear, still night (°C): 2 h after sunset, dew point then, minimum later."""

    t_sunset2h: float
    dew_point: float
    minimum: float


@dataclass(frozen=True, slots=True)
class Coefficients:
    """The fitted night minimum: base + air * T0 + dew * Td, with how well it fits.

    `r_squared` is the squared correlation of expected and observed minima, None when
    all minima are alike and there is nothing to explain.
    """

    base: float
    air: float
    dew: float
    nights: int
    r_squared: float | None
    rmse_c: float


def night_minimum(
    t_sunset2h: float, dew_point: float, coefficients: Coefficients
) -> float:
    """Return the night's minimum that the orchard's own regression expects.

    Parameters
    ----------
    t_sunset2h : air temperature 2 h after sunset, °C
    dew_point : dew point at the same time, °C
    coefficients : from `fit_night_minimum`

    Returns
    -------
    Expected minimum, °C, for a clear and still night only.

    Raises
    ------
    ValueError
        When a temperature has no meaning or the dew point is above the air.

    References
    ----------
    Snyder, R. L. & de Melo-Abreu, J. P. (2005), Frost protection: fundamentals,
    practice and economics, FAO Environment and Natural Resources Series 10, volume 1.
    The method read in a description of it, the book from memory.
    """
    evening = arguments.temperature("t_sunset2h", t_sunset2h)
    dew = arguments.temperature("dew_point", dew_point)
    if dew > evening:
        raise ValueError(
            f"dew_point is {dew:g} °C, air is {evening:g} °C; allowed is dew <= air."
        )
    return coefficients.base + coefficients.air * evening + coefficients.dew * dew


def fit_night_minimum(
    observations: Sequence[tuple[float, float, float]],
) -> Coefficients:
    """Return the regression of the minimum on the evening, over the orchard's nights.

    Parameters
    ----------
    observations : (air 2 h after sunset, dew point then, minimum that followed), °C, of
        clear and still nights: wind under 2 m/s, no cloud, fog or rain

    Returns
    -------
    Coefficients, with the number of nights and how well they fit.

    Raises
    ------
    ValueError
        When there are fewer than four nights, all nights are alike in air or in dew
        point, or a value has no meaning.

    Notes
    -----
    Two steps, not one regression on both: the minimum on the air temperature, then
    what is left over on the dew point; the two lines are added.

    References
    ----------
    Snyder & de Melo-Abreu (2005), as for `night_minimum`.
    """
    if len(observations) < _FEWEST_NIGHTS:
        raise ValueError(
            f"observations holds {len(observations)} nights; allowed is at least "
            f"{_FEWEST_NIGHTS}, and ten or more before it is trusted."
        )
    evenings, dews, minima = [], [], []
    for evening, dew, minimum in observations:
        evenings.append(arguments.temperature("t_sunset2h", evening))
        dews.append(arguments.temperature("dew_point", dew))
        minima.append(arguments.temperature("minimum", minimum))
    base, air = _line("t_sunset2h", evenings, minima)
    left = [
        minimum - (base + air * evening)
        for minimum, evening in zip(minima, evenings, strict=True)
    ]
    more_base, dew_slope = _line("dew_point", dews, left)
    fitted = [
        base + more_base + air * evening + dew_slope * dew
        for evening, dew in zip(evenings, dews, strict=True)
    ]
    missed = math.fsum(
        (minimum - guess) ** 2 for minimum, guess in zip(minima, fitted, strict=True)
    )
    alike = max(minima) == min(minima) or max(fitted) == min(fitted)
    return Coefficients(
        base=base + more_base,
        air=air,
        dew=dew_slope,
        nights=len(minima),
        r_squared=None if alike else statistics.correlation(minima, fitted) ** 2,
        rmse_c=math.sqrt(missed / len(minima)),
    )


def _line(name: str, xs: Sequence[float], ys: Sequence[float]) -> tuple[float, float]:
    if max(xs) == min(xs):
        raise ValueError(
            f"{name} is the same in all nights; allowed is nights that differ."
        )
    slope, intercept = statistics.linear_regression(xs, ys)
    return intercept, slope


def night_curve(
    t_2h_after_sunset: float, minimum: float, night_hours: float, hours: float
) -> float:
    """Return the temperature at an hour of a clear night.

    Parameters
    ----------
    t_2h_after_sunset : air temperature 2 h after sunset, °C
    minimum : temperature at sunrise, °C
    night_hours : hours from sunset to sunrise, above 2
    hours : hours after sunset, 2 to night_hours

    Returns
    -------
    Air temperature, °C.

    Raises
    ------
    ValueError
        When the minimum is above the evening or an hour lies outside the night.

    References
    ----------
    Brunt, D. (1941), Physical and Dynamical Meteorology: the square-root law. From
    memory; worked example read.
    """
    evening, lowest, night = _night(t_2h_after_sunset, minimum, night_hours)
    hour = arguments.number("hours", hours, "h", at_least=_FIRST_HOUR, at_most=night)
    share = math.sqrt((hour - _FIRST_HOUR) / (night - _FIRST_HOUR))
    return evening + (lowest - evening) * share


def hours_below(
    threshold: float, t_2h_after_sunset: float, minimum: float, night_hours: float
) -> float:
    """Return how long until sunrise the night stays at or below a temperature.

    Arguments as for `night_curve`; threshold in °C. Hours, counted from 2 h after
    sunset, since the curve says nothing about the evening before that; the cold also
    lasts some time past sunrise, which is not counted.

    Raises
    ------
    ValueError
        As `night_curve`.
    """
    limit = arguments.temperature("threshold", threshold)
    evening, lowest, night = _night(t_2h_after_sunset, minimum, night_hours)
    length = night - _FIRST_HOUR
    if limit >= evening:
        return length
    if limit < lowest:
        return 0.0
    return length * (1.0 - ((evening - limit) / (evening - lowest)) ** 2)


def _night(
    t_2h_after_sunset: float, minimum: float, night_hours: float
) -> tuple[float, float, float]:
    evening = arguments.temperature("t_2h_after_sunset", t_2h_after_sunset)
    lowest = arguments.temperature("minimum", minimum)
    night = arguments.number(
        "night_hours", night_hours, "h", above=_FIRST_HOUR, at_most=24.0
    )
    if lowest > evening:
        raise ValueError(
            f"minimum is {lowest:g} °C, the evening {evening:g} °C; "
            f"allowed is minimum <= evening."
        )
    return evening, lowest, night


def site_offset(nights: Sequence[tuple[float, float]]) -> float:
    """Return how much a spot differs from the forecast on still, clear nights.

    Parameters
    ----------
    nights : (own minimum, forecast minimum), °C, oldest first; the last ten are used

    Returns
    -------
    Median of own minus forecast minimum, °C; negative in a cold spot.

    Raises
    ------
    ValueError
        When there is no night, or a temperature has no meaning.

    References
    ----------
    Measuring one's own offset: Wright, G. C. (2001), Protecting a citrus tree from
    cold, University of Arizona AZ1222. Read. The median: common practice, no source.
    """
    if not nights:
        raise ValueError("nights is empty; allowed is at least one still, clear night.")
    latest = nights[-int(figures.figure("offset_nights").value) :]
    return statistics.median(
        arguments.temperature("own minimum", own)
        - arguments.temperature("forecast minimum", forecast)
        for own, forecast in latest
    )
