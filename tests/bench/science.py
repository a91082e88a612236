"""Measure the computations at full size against the same done by numpy or pvlib.

    python -m tests.bench.science

Promises, in one process: 30 years of days for 200 cultivar groups, each from a bloom of
its own, accumulated by the guide's thresholds in at most twice the time of numpy, in a
mild climate and in one whose days cross both thresholds; a year of direct sun for a
spot in at most half the time of pvlib. Numpy lays down every sum of every group; ours
are worked out as they are read. So a second line tells what it takes both to answer one
question for each group, its sum on the last day, of which numpy needs no more either.
All results are compared with the reference first, so that a quick wrong answer counts
for nothing.
"""

from __future__ import annotations

import gc
import math
import random
import statistics
import sys
import time
from collections.abc import Callable
from datetime import date, timedelta
from functools import partial

import numpy as np
import pandas as pd
from pvlib import solarposition

from orchard.science import heat, sun
from orchard.science.arguments import COLDEST_C, HOTTEST_C
from orchard.science.figures import figure

# As commands and servers have it.
gc.set_threshold(50_000, 20, 20)

YEARS, GROUPS = 30, 200
# Mean of the year, swing of the seasons, half the span of the least and widest day, °C.
CLIMATES = {"mild": (16.0, 7.0, 5.0, 8.0), "desert": (22.0, 10.0, 9.0, 13.0)}
# Times the reference, which runs on the same machine in the same minute.
HEAT_MOST, LAST_SUM_MOST, SUN_MOST = 2.0, 4.0, 0.5
HEAT_TURNS, SUN_TURNS = 25, 5
LATITUDE, LONGITUDE = 38.41, -8.62
HORIZON = [(step * 22.5, 6.0 + 18.0 * (step % 5 == 2)) for step in range(16)]


def in_turn(
    ours: Callable[[], object], theirs: Callable[[], object], times: int
) -> tuple[float, float, float]:
    """Return the least CPU seconds of both, and the middle ratio of all turns.

    One after the other, so that a slow moment of the machine meets both.
    """
    taken: tuple[list[float], list[float]] = ([], [])
    for _ in range(times):
        for kept, work in zip(taken, (ours, theirs), strict=True):
            began = time.process_time()
            work()
            kept.append(time.process_time() - began)
    ratios = [mine / other for mine, other in zip(*taken, strict=True)]
    return min(taken[0]), min(taken[1]), statistics.median(ratios)


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


def our_heat(days, starts, lower, upper) -> list[heat.RunningSums]:
    """Accumulate every group from its own start."""
    sums = heat.Sums(days, lower, upper)
    return [sums.since(start) for start in starts]


def our_last_sums(days, starts, lower, upper) -> list[float]:
    """Tell the sum of every group on the last day."""
    sums = heat.Sums(days, lower, upper)
    return [sums.between(start, sums.last) for start in starts]


def numpy_totals(days, lower, upper) -> tuple[np.ndarray, int]:
    """Do the same from the same rows: checked, and each day's sine taken once."""
    dates, least, most = zip(*days, strict=True)
    on = np.fromiter(map(date.toordinal, dates), int, len(days))
    lows, highs = np.array(least), np.array(most)
    assert (np.diff(on) == 1).all()
    assert (lows >= COLDEST_C).all()
    assert (lows <= highs).all()
    assert (highs <= HOTTEST_C).all()
    middle, half = (lows + highs) / 2, (highs - lows) / 2

    def above(threshold):
        share = np.clip((middle - threshold) / half, -1, 1)
        inside = share * np.arccos(-share) + np.sqrt((1 - share) * (1 + share))
        return np.where(lows >= threshold, middle - threshold, half / np.pi * inside)

    total = np.concatenate([[0.0], np.cumsum(above(lower) - above(upper))])
    return total, on[0]


def numpy_heat(days, starts, lower, upper) -> list[np.ndarray]:
    total, first = numpy_totals(days, lower, upper)
    begun = np.fromiter((start.toordinal() for start in starts), int, len(starts))
    return [total[place + 1 :] - total[place] for place in begun - first]


def numpy_last_sums(days, starts, lower, upper) -> np.ndarray:
    total, first = numpy_totals(days, lower, upper)
    begun = np.fromiter((start.toordinal() for start in starts), int, len(starts))
    return total[-1] - total[begun - first]


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


def heat_lines(name: str) -> list[tuple[str, tuple[float, float, float], str, float]]:
    """Time the heat of one climate: all sums of every group, and its last."""
    days = invented_days(*CLIMATES[name])
    dice = random.Random(9)
    starts = [days[dice.randrange(365)][0] for _ in range(GROUPS)]
    thresholds = (figure("heat_base_c").value, figure("heat_cap_c").value)
    work = (our_heat, numpy_heat, our_last_sums, numpy_last_sums)
    ours, theirs, our_last, their_last = (
        partial(each, days, starts, *thresholds) for each in work
    )
    for mine, other in zip(ours(), theirs(), strict=True):
        if not np.allclose([units for _on, units in mine], other, rtol=1e-9, atol=1e-9):
            sys.exit("The heat sums differ from those of numpy.")
    if not np.allclose(our_last(), their_last(), rtol=1e-9, atol=1e-9):
        sys.exit("The last sums differ from those of numpy.")
    what = f"heat, {YEARS} years, {GROUPS} groups, {name}"
    return [
        (what, in_turn(ours, theirs, HEAT_TURNS), "numpy", HEAT_MOST),
        (
            "  the last sum of each",
            in_turn(our_last, their_last, HEAT_TURNS),
            "numpy",
            LAST_SUM_MOST,
        ),
    ]


def sun_line() -> tuple[str, tuple[float, float, float], str, float]:
    """Time the direct sun of a year."""
    ours = partial(sun.year_of_hours, 2025, LATITUDE, LONGITUDE, HORIZON)
    theirs = partial(pvlib_sun, 2025)
    if max(abs(a - b) for a, b in zip(ours(), theirs(), strict=True)) > 0.05:
        sys.exit("The hours of sun differ from those of pvlib.")
    what = "direct sun, one year of a spot"
    return what, in_turn(ours, theirs, SUN_TURNS), "pvlib", SUN_MOST


def main() -> int:
    worst = 0
    heats = [line for name in CLIMATES for line in heat_lines(name)]
    for what, taken, name, most in [*heats, sun_line()]:
        mine, other, ratio = taken
        holds = "holds" if ratio <= most else "BROKEN"
        print(
            f"{what:40} {mine:7.4f} s   {name} {other:7.4f} s   "
            f"ratio {ratio:6.2f}   at most {most:g}: {holds}"
        )
        worst = max(worst, int(ratio > most))
    return worst


if __name__ == "__main__":
    sys.exit(main())
