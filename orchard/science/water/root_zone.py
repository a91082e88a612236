"""The root zone day by day: what is used up, and when a tree is to be watered."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import NamedTuple

from orchard.science import arguments, figures


class WaterDay(NamedTuple):
    """What one day takes and brings (mm): reference, coefficient, rain, watering."""

    on: date
    et0: float
    kc: float
    rain: float
    watered: float


@dataclass(frozen=True, slots=True)
class Balance:
    """The root zone at the end of a day; all in mm.

    `used` is what the tree took, `rain` what of the rain was counted, `drained` what
    went below the roots, `depleted` what is missing to a full root zone.
    """

    on: date
    used: float
    rain: float
    watered: float
    drained: float
    depleted: float


class SoilTexture(StrEnum):
    """What the roots stand in, as far as the figures go."""

    LOAM = "loam"
    SAND = "sand"


def available_water(soil: str) -> tuple[float, float]:
    """Return how much water citrus roots reach in a soil, and how much is ready.

    Parameters
    ----------
    soil : "loam" or "sand"

    Returns
    -------
    (total, ready), mm: a tree is to be watered when ready water is used up.

    Raises
    ------
    ValueError
        When the soil is neither.

    References
    ----------
    Ready water: Citrus Australia (2018), Seasonal updates. Read. The share of it in
    all water in reach: Allen et al. (1998), FAO-56, Table 22. From memory.
    """
    keys = {SoilTexture.LOAM: "ready_water_mm", SoilTexture.SAND: "ready_water_sand_mm"}
    if soil not in keys:
        raise ValueError(f"soil is {soil!r}; allowed is {' or '.join(SoilTexture)}.")
    ready = figures.figure(keys[SoilTexture(soil)]).value
    return ready / figures.figure("ready_water_share").value, ready


def counted_rain(rain: float, et0: float) -> float:
    """Return the part of a day's rain (mm) that reaches the roots.

    A sprinkle under a fifth of the day's reference evapotranspiration (mm) wets leaves
    and mulch only and counts as nothing; any more counts whole. ValueError for a
    negative amount. Allen et al. (1998), FAO-56, chapter 8. From memory.
    """
    fallen = arguments.number("rain", rain, "mm", at_least=0.0)
    taken = arguments.number("et0", et0, "mm", at_least=0.0)
    return 0.0 if fallen < figures.figure("rain_counts_from").value * taken else fallen


def stress(depleted: float, total: float, ready: float) -> float:
    """Return the share of its need that a tree can still draw from drying soil.

    Parameters
    ----------
    depleted : water missing in the root zone, mm
    total : all the water the root zone can hold for plants, mm
    ready : the part of it that roots take without effort, mm

    Returns
    -------
    1 while ready water is left, falling in a straight line to 0 when all is used.

    Raises
    ------
    ValueError
        When an amount is negative, or ready is not between 0 and total.

    References
    ----------
    Allen et al. (1998), FAO-56, equation 84. From memory.
    """
    capacity = arguments.number("total", total, "mm", above=0.0)
    easy = arguments.number("ready", ready, "mm", at_least=0.0, below=capacity)
    missing = arguments.number("depleted", depleted, "mm", at_least=0.0)
    if missing <= easy:
        return 1.0
    return max(0.0, (capacity - missing) / (capacity - easy))


def root_zone_balance(
    days: Iterable[tuple[date, float, float, float, float]],
    *,
    total: float,
    ready: float,
    depleted: float = 0.0,
) -> list[Balance]:
    """Return the root zone day by day, from a known beginning.

    Parameters
    ----------
    days : (day, reference evapotranspiration mm, crop coefficient, rain mm, watered
        mm) in order and without a gap
    total, ready : as for `stress`, mm
    depleted : what is missing at the beginning, mm; 0 after a soaking rain

    Returns
    -------
    One Balance for each day. A tree is to be watered when `depleted` reaches `ready`.

    Raises
    ------
    ValueError
        When a day is missing or out of order, or a number has no meaning.

    References
    ----------
    Allen et al. (1998), FAO-56, equations 85 and 86, without rise from below and with
    all counted rain soaking in. From memory.
    """
    missing = arguments.number("depleted", depleted, "mm", at_least=0.0, at_most=total)
    found: list[Balance] = []
    before: date | None = None
    for on, et0, kc, rain, watered in days:
        if before is not None and on != before + timedelta(days=1):
            raise ValueError(
                f"{before} is followed by {on}; allowed is one row for every day."
            )
        before = on
        coefficient = arguments.number("kc", kc, at_least=0.0, at_most=2.0)
        soaked = counted_rain(rain, et0)
        given = arguments.number("watered", watered, "mm", at_least=0.0)
        used = stress(missing, total, ready) * coefficient * et0
        level = missing - soaked - given + used
        drained = max(0.0, -level)
        missing = min(max(level, 0.0), total)
        found.append(Balance(on, used, soaked, given, drained, missing))
    return found


def last_full(
    days: Iterable[tuple[date, float, float, float, float]],
    *,
    total: float,
    ready: float,
) -> date | None:
    """Return the last day on which the root zone was full, whatever it began with.

    Parameters
    ----------
    days, total, ready : as for `balance`

    Returns
    -------
    The day, or None when what fell and was given would not have filled ground that
    was quite empty at the beginning.

    Raises
    ------
    ValueError
        As `balance`.

    Notes
    -----
    The balance is run from empty ground. On a day on which that one is full, the true
    one is full too, for more at the beginning never leaves less, as long as no day
    takes more than total - ready; no weather does.
    """
    rows = root_zone_balance(days, total=total, ready=ready, depleted=total)
    return max((row.on for row in rows if row.depleted <= 0), default=None)
