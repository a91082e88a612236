"""Water in the ground: how much of what roots can reach is used up."""

from __future__ import annotations

from collections.abc import Iterable

from orchard.science import arguments, figures


def within_reach() -> float:
    """Return all water that citrus roots can reach in loam, mm.

    The ready water of loam over the share of all that is ready. Sources: the guide's
    figures `ready_water_mm` and `ready_water_share`.
    """
    ready = figures.figure("ready_water_mm").value
    return ready / figures.figure("ready_water_share").value


def depletion(
    days: Iterable[tuple[float, float]], within: float, *, start: float = 0.0
) -> float:
    """Return the water missing from the root zone at the end of the last day.

    Parameters
    ----------
    days : (crop evapotranspiration, rain and water given) of each day, mm, in order
    within : all water that the roots can reach when the ground is full, mm
    start : water missing before the first day, mm

    Returns
    -------
    Depletion, mm: 0 when the ground is full, at most `within`.

    Raises
    ------
    ValueError
        When a number is missing or negative, or start is above within.

    Notes
    -----
    No run-off and nothing rising from below; what falls beyond a full root zone drains
    away. Trees that are already short of water draw less than this reckons.

    References
    ----------
    Allen et al. (1998), FAO-56, equations 85 and 86. From memory.
    """
    most = arguments.number("within", within, "mm", above=0.0)
    missing = arguments.number("start", start, "mm", at_least=0.0, at_most=most)
    for drawn, brought in days:
        missing += arguments.number("evapotranspiration", drawn, "mm", at_least=0.0)
        missing -= arguments.number("rain", brought, "mm", at_least=0.0)
        missing = min(max(missing, 0.0), most)
    return missing
