"""Measure the computations at full size against the same done by numpy or pvlib.

    python -m tests.bench.science

Promises, in one process: 30 years of days for 200 cultivar groups, each from a bloom of
its own, accumulated by the guide's thresholds in at most twice the time of numpy, in a
mild climate and in one whose days cross both thresholds; a year of direct sun for a
spot in at most half the time of pvlib.
All results are compared with the reference first, so that a quick wrong answer counts
for nothing.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections.abc import Callable
from datetime import date, timedelta
from functools import partial

import numpy as np
import pandas as pd
from pvlib import solarposition

from orchard.science import heat, sun
from orchard.science.figures import figure

YEARS, GROUPS = 30, 200
# Mean of the year, swing of the seasons, half the span of the least and widest day, °C.
CLIMATES = {"mild": (16.0, 7.0, 5.0, 8.0), "desert": (22.0, 10.0, 9.0, 13.0)}
# Times the reference, which runs on the same machine in the same minute.
HEAT_MOST, SUN_MOST = 2.0, 0.5
LATITUDE, LONGITUDE = 38.41, -8.62
HORIZON = [(step * 22.5, 6.0 + 18.0 * (step % 5 == 2)) for step in range(16)]


def best(work: Callable[[], object], times: int = 3) -> float:
    """Return the shortest of several runs, seconds."""
    taken = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        taken.append(time.perf_counter() - began)
    return min(taken)


def invented_days(
    middle: float, swing: float, least: float, widest: float
) -> list[tuple[date, float, float]]:
    dice = random.Random(7)
    first = date(1995, 1, 1)
    days = []
    for number in range(YEARS * 365 + 8):
        on = first + timedelta(days=number)
        season = math.cos(2 * math.pi * number / 365.25)
        mean = middle - swing * season + dice.gauss(0, 2)
        half = dice.uniform(least, widest)
        days.append((on, mean - half, mean + half))
    return days


def our_heat(days, starts, lower, upper) -> list[float]:
    """Accumulate every group from its own start."""
    sums = heat.Sums(days, lower, upper)
    return [sums.since(start)[-1][1] for start in starts]


def numpy_heat(lows, highs, places, lower, upper) -> np.ndarray:
    middle, half = (lows + highs) / 2, (highs - lows) / 2

    def above(threshold):
        with np.errstate(invalid="ignore"):
            angle = np.arcsin(np.clip((threshold - middle) / half, -1, 1))
        cut = (middle - threshold) * (np.pi / 2 - angle) + half * np.cos(angle)
        inside = cut / np.pi
        return np.where(
            lows >= threshold,
            middle - threshold,
            np.where(highs <= threshold, 0.0, inside),
        )

    units = above(lower) - above(upper)
    return np.array([np.cumsum(units[place:])[-1] for place in places])


def pvlib_sun(year: int) -> list[float]:
    """Do with pvlib what `sun.year_of_hours` does, at the same five minutes."""
    start = pd.Timestamp(year, 1, 1, tz="UTC") - pd.Timedelta(hours=LONGITUDE / 15)
    moments = pd.date_range(
        start + pd.Timedelta(minutes=2.5), periods=365 * 288, freq="5min"
    )
    found = solarposition.get_solarposition(moments, LATITUDE, LONGITUDE)
    elevation = found["elevation"].to_numpy()
    azimuth = found["azimuth"].to_numpy()
    around = [point[0] for point in HORIZON]
    up = [point[1] for point in HORIZON]
    skyline = np.interp(azimuth, around, up, period=360)
    lit = (elevation > 0) & (elevation > skyline)
    hours = lit.reshape(365, 288).sum(axis=1) / 12
    months = pd.date_range(f"{year}-01-01", periods=365).month
    return [float(hours[months == month].mean()) for month in range(1, 13)]


def heat_line(name: str) -> tuple[str, float, float, str, float]:
    """Time the heat of one climate."""
    days = invented_days(*CLIMATES[name])
    dice = random.Random(9)
    places = [dice.randrange(365) for _ in range(GROUPS)]
    starts = [days[place][0] for place in places]
    lows = np.array([low for _on, low, _high in days])
    highs = np.array([high for _on, _low, high in days])
    thresholds = (figure("heat_base_c").value, figure("heat_cap_c").value)
    ours = partial(our_heat, days, starts, *thresholds)
    theirs = partial(numpy_heat, lows, highs, places, *thresholds)
    if not np.allclose(ours(), theirs(), rtol=1e-9, atol=0):
        sys.exit("The heat sums differ from those of numpy.")
    what = f"heat, {YEARS} years, {GROUPS} groups, {name}"
    return what, best(ours), best(theirs), "numpy", HEAT_MOST


def main() -> int:
    lines = [heat_line(name) for name in CLIMATES]
    hours, reference = (
        sun.year_of_hours(2025, LATITUDE, LONGITUDE, HORIZON),
        pvlib_sun(2025),
    )
    if max(abs(a - b) for a, b in zip(hours, reference, strict=True)) > 0.05:
        sys.exit("The hours of sun differ from those of pvlib.")

    lines.append(
        (
            "direct sun, one year of a spot",
            best(lambda: sun.year_of_hours(2025, LATITUDE, LONGITUDE, HORIZON)),
            best(lambda: pvlib_sun(2025)),
            "pvlib",
            SUN_MOST,
        )
    )
    worst = 0
    for what, mine, other, name, most in lines:
        ratio = mine / other
        holds = "holds" if ratio <= most else "BROKEN"
        print(
            f"{what:40} {mine:7.3f} s   {name} {other:7.3f} s   "
            f"ratio {ratio:6.2f}   at most {most:g}: {holds}"
        )
        worst = max(worst, int(ratio > most))
    return worst


if __name__ == "__main__":
    sys.exit(main())
