"""The root zone day by day: what is used up, and when a tree is to be watered."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
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


def root_depth(
    years: float | None,
    *,
    new: float | None = None,
    young: float | None = None,
    mature: float | None = None,
) -> float:
    """Return how deep the roots of a tree draw water, m.

    Parameters
    ----------
    years : since it was planted; a tree of unknown age is taken as a young one, so
        that it is watered early and not late
    new, young, mature : the site's own depths, m, in place of the usual ones

    Raises
    ------
    ValueError
        When the years are negative.

    References
    ----------
    Allen et al. (1998), FAO-56, Table 22, for grown trees. From memory. The rest is
    common practice.
    """
    if years is None:
        return young or figures.figure("root_depth_young_m").value
    planted = arguments.number("years", years, at_least=0.0)
    if planted < figures.figure("root_new_years").value:
        return new or figures.figure("root_depth_new_m").value
    if planted <= figures.figure("root_young_years").value:
        return young or figures.figure("root_depth_young_m").value
    return mature or figures.figure("root_depth_mature_m").value


def available_water(soil: str, depth: float) -> tuple[float, float]:
    """Return how much water citrus roots reach in a soil, and how much is ready.

    Parameters
    ----------
    soil : "loam" or "sand"
    depth : of the roots, m

    Returns
    -------
    (total, ready), mm; ready where 5 mm are used a day, see `ready_water`.

    Raises
    ------
    ValueError
        When the soil is neither, or the depth not above 0.

    References
    ----------
    Allen et al. (1998), FAO-56, equations 82 and 83, Tables 19 and 22. From memory.
    """
    keys = {
        SoilTexture.LOAM: "soil_water_loam_mm_m",
        SoilTexture.SAND: "soil_water_sand_mm_m",
    }
    if soil not in keys:
        raise ValueError(f"soil is {soil!r}; allowed is {' or '.join(SoilTexture)}.")
    return water_in_reach(
        figures.figure(keys[SoilTexture(soil)]).value,
        depth,
        figures.figure("ready_water_share").value,
    )


def water_in_reach(capacity: float, depth: float, share: float) -> tuple[float, float]:
    """Return how much water roots reach in a soil, and how much is ready.

    Parameters
    ----------
    capacity : what a metre of soil holds between field capacity and wilting point, mm
    depth : of the roots, m
    share : of it that the roots draw without effort

    Returns
    -------
    (total, ready), mm.

    Raises
    ------
    ValueError
        When a number is not above 0, or the share not below 1.

    References
    ----------
    Allen et al. (1998), FAO-56, equations 82 and 83. From memory.
    """
    per_metre = arguments.number("capacity", capacity, "mm", above=0.0)
    total = per_metre * arguments.number("depth", depth, "m", above=0.0)
    return total, total * arguments.number("share", share, above=0.0, below=1.0)


def strip_water(soil: str) -> tuple[float, float]:
    """Return (total, ready), mm, where drippers wet a strip of the soil only.

    ValueError when the soil is neither "loam" nor "sand". Ready water: Citrus
    Australia (2018), Seasonal updates. Read. The share of it in all water in reach:
    Allen et al. (1998), FAO-56, Table 22. From memory.
    """
    keys = {
        SoilTexture.LOAM: "ready_water_strip_loam_mm",
        SoilTexture.SAND: "ready_water_strip_sand_mm",
    }
    if soil not in keys:
        raise ValueError(f"soil is {soil!r}; allowed is {' or '.join(SoilTexture)}.")
    ready = figures.figure(keys[SoilTexture(soil)]).value
    return ready / figures.figure("ready_water_share").value, ready


def ready_share(use: float) -> float:
    """Return the share of all water in reach that citrus draws without effort.

    `use` is what the tree uses a day (mm): the more it uses, the sooner it suffers.
    The share stays between 0.1 and 0.8. ValueError when the use is negative. Allen et
    al. (1998), FAO-56, Table 22 and its note. From memory.
    """
    daily = arguments.number("use", use, "mm", at_least=0.0)
    slope = figures.figure("ready_water_slope").value
    share = figures.figure("ready_water_share").value + slope * (5.0 - daily)
    return min(0.8, max(0.1, share))


@dataclass(frozen=True, slots=True)
class WateringSpan:
    """Between how many days from now a tree is to be watered; both 0 is today."""

    not_before: int
    not_later: int


def watering_span(depleted: float, ready: float, use: float) -> WateringSpan | None:
    """Return when a tree is to be watered if no rain falls.

    Parameters
    ----------
    depleted : what is missing in the root zone now, mm
    ready : water that roots take without effort, mm
    use : what the tree uses a day, mm

    Returns
    -------
    Not before 0.7 of ready water is used up and not later than all of it, in days from
    now; None while nothing is used.

    Raises
    ------
    ValueError
        When an amount is negative, or no water is ready.

    References
    ----------
    Allen et al. (1998), FAO-56, chapter 8: irrigate before or at the moment when ready
    water is used up. From memory.
    """
    missing = arguments.number("depleted", depleted, "mm", at_least=0.0)
    easy = arguments.number("ready", ready, "mm", above=0.0)
    daily = arguments.number("use", use, "mm", at_least=0.0)
    starts = figures.figure("water_from_share").value * easy
    if missing >= starts:
        last = 0 if missing >= easy or not daily else int((easy - missing) / daily)
        return WateringSpan(0, last)
    if not daily:
        return None
    first = math.ceil((starts - missing) / daily)
    return WateringSpan(first, max(first, int((easy - missing) / daily)))


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


class ZoneDay(NamedTuple):
    """What one day takes of a well-watered tree and what rain brings it, mm."""

    on: date
    need: float
    soaked: float
    is_estimated: bool = False


class Depletion(NamedTuple):
    """What is missing since the ground was last full, and how it was used, mm."""

    full_on: date
    missing: float
    used: float
    estimated: float

    @property
    def estimated_share(self) -> float:
        return self.estimated / self.used if self.used else 0.0


def depletion(
    days: Sequence[ZoneDay],
    given: Mapping[date, float],
    filled: Collection[date],
    *,
    total: float,
    ready: float,
) -> Depletion | None:
    """Return what is missing in a root zone at the end of some days.

    Parameters
    ----------
    days : in order and without a gap
    given : what was watered by day, mm
    filled : days on which water filled the ground, however much it was
    total, ready : as for `stress`, mm

    Returns
    -------
    None when what fell and was given would not have filled ground that was quite empty
    at the beginning.

    Notes
    -----
    The balance is run from empty ground. On a day on which that one is full, the true
    one is full too, for more at the beginning never leaves less, as long as no day
    takes more than total - ready; no weather does. From there on both are the same.

    References
    ----------
    Allen et al. (1998), FAO-56, equations 84 to 86. From memory.
    """
    missing, span = total, total - ready
    full_on: date | None = None
    used = estimated = 0.0
    for on, need, soaked, is_estimated in days:
        drawn = need if missing <= ready else need * (total - missing) / span
        missing = min(missing - soaked - given.get(on, 0.0) + drawn, total)
        used += drawn
        if is_estimated:
            estimated += drawn
        if missing <= 0 or on in filled:
            missing = used = estimated = 0.0
            full_on = on
    if full_on is None:
        return None
    return Depletion(full_on, missing, used, estimated)
