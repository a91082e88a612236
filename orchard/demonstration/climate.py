"""The climate: two invented years of believable days, the same for a seed."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from orchard.science.windows import day_in_season, season_year


@dataclass(frozen=True, slots=True)
class Sky:
    """One day of invented weather; None is a gap of the station."""

    on: date
    tmin: float | None
    tmax: float | None
    rain: float | None
    humidity: float | None
    wind: float | None
    sunshine: float | None

    def cells(self) -> tuple[str, ...]:
        """Return the day as a row of a weather file."""
        values = (
            self.tmin, self.tmax, self.rain, self.humidity, self.wind, self.sunshine,
        )  # fmt: skip
        return (
            self.on.isoformat(),
            *("" if value is None else f"{value:.1f}" for value in values),
        )


HEADS = (
    "Day",
    "Lowest °C",
    "Highest °C",
    "Rain mm",
    "Humidity %",
    "Wind at 2 m (m/s)",
    "Sunshine h",
)
# Season month and day of what happens every year, with its length in days.
WET = (9, 5, 7)
HOT = (5, 20, 8)
SOAKING = (1, 20)
GAP = (12, 20, 3)
HEAVY = ((8, 12, 31.0), (12, 6, 27.0))


def days(
    first: date, last: date, *, latitude: float, dice: Random, frosts: Iterable[date]
) -> list[Sky]:
    """Invent every day from first to last: a year's round, spells, some marked days.

    Each year has a hot week, a wet one, three days on which the station was down, and
    the frost nights that the story tells of.
    """
    marked = _marked(first, last, latitude)
    cold = set(frosts)
    warm_by = 0.0
    found = []
    on = first
    while on <= last:
        warm_by = 0.72 * warm_by + dice.gauss(0, 1.5)
        found.append(_day(on, latitude, warm_by, dice, marked.get(on, ""), on in cold))
        on += timedelta(days=1)
    return found


def warmth(on: date, latitude: float) -> float:
    """Return how far into summer a day is: 1 at its height, -1 in deepest winter."""
    peak = 205 if latitude >= 0 else 22
    return math.cos(2 * math.pi * (on.timetuple().tm_yday - peak) / 365.25)


def _marked(first: date, last: date, latitude: float) -> dict[date, str]:
    found: dict[date, str] = {}
    years = range(season_year(first, latitude), season_year(last, latitude) + 1)
    for year in years:
        for word, (month, day, count) in (("wet", WET), ("hot", HOT), ("gap", GAP)):
            start = day_in_season(year, month, day, latitude)
            for step in range(count):
                found[start + timedelta(days=step)] = word
        found[day_in_season(year, *SOAKING, latitude)] = "soaking"
        for month, day, amount in HEAVY:
            found[day_in_season(year, month, day, latitude)] = f"rain {amount}"
    return found


def _day(
    on: date, latitude: float, warm_by: float, dice: Random, mark: str, frost: bool
) -> Sky:
    summer = warmth(on, latitude)
    mean = 16.2 + 7.2 * summer + warm_by
    half = 5.2 + 1.6 * summer
    wet = dice.random() < 0.19 - 0.15 * summer
    rain = round(dice.expovariate(1 / 7.5), 1) if wet else 0.0
    # Twice as many dice on every day alike, so that a mark changes only its own day.
    more, gust, cloud = dice.random(), dice.random(), dice.random()
    match mark.partition(" "):
        case ("wet", _, _):
            rain = round(6 + 18 * more, 1)
        case ("soaking", _, _):
            rain = round(42 + 10 * more, 1)
        case ("rain", _, amount):
            rain = float(amount)
        case ("hot", _, _):
            rain, mean, half = 0.0, mean + 7.5, half + 1.5
    if rain:
        mean, half = mean - 1.0, half * 0.6
    low, high = mean - half, mean + half
    if frost:
        rain, low, high = 0.0, -1.2 - 0.8 * more, 10.5 + 2 * gust
    if mark == "gap":
        return Sky(on, None, None, None, None, None, None)
    longest = 12.1 + 2.6 * summer
    sun = longest * (0.25 + 0.2 * cloud if rain else 0.68 + 0.25 * cloud)
    humidity = 84 + 8 * more if rain else 68 - 14 * summer + 10 * (more - 0.5)
    return Sky(
        on=on,
        tmin=round(low, 1),
        tmax=round(high, 1),
        rain=rain,
        humidity=round(min(humidity, 97.0), 1),
        wind=round(0.8 + 2.4 * gust, 1),
        sunshine=round(sun, 1),
    )
