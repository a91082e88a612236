"""Missing temperatures taken from a station nearby, where both go together."""

from __future__ import annotations

import statistics
from collections.abc import Iterable
from dataclasses import dataclass

from orchard.science import arguments, figures


@dataclass(frozen=True, slots=True)
class Likeness:
    """How a station follows one nearby: `base + slope x what was measured there`.

    `r_squared` is the squared correlation of both, over `days` measured at both.
    """

    base: float
    slope: float
    r_squared: float
    days: int

    def at_home(self, nearby: float) -> float:
        """Return what a temperature measured nearby is at home, °C."""
        return self.base + self.slope * nearby


def likeness(pairs: Iterable[tuple[float, float]]) -> Likeness | None:
    """Return how temperatures at home follow those of a station nearby.

    Parameters
    ----------
    pairs : (nearby, at home) on the same days, °C

    Returns
    -------
    The line of least squares, or None where a missing day may not be read off it: too
    few days in common, days all alike, or a squared correlation under 0.7.

    Raises
    ------
    ValueError
        When a temperature is not on Earth.

    References
    ----------
    Allen et al. (1998), FAO-56, Annex 4. From memory. How many days are enough is
    common practice.
    """
    nearby, home = [], []
    for there, here in pairs:
        nearby.append(arguments.temperature("nearby", there))
        home.append(arguments.temperature("home", here))
    if len(nearby) < figures.figure("neighbour_fewest_days").value:
        return None
    if max(nearby) == min(nearby) or max(home) == min(home):
        return None
    r_squared = statistics.correlation(nearby, home) ** 2
    if r_squared < figures.figure("neighbour_least_r_squared").value:
        return None
    slope, base = statistics.linear_regression(nearby, home)
    return Likeness(base, slope, r_squared, len(nearby))
