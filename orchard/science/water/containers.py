"""Water in a container day by day: what the mix holds, what is drawn of it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import date, timedelta
from typing import NamedTuple

from orchard.science import arguments, figures


class PotBalance(NamedTuple):
    """A container at the end of a day; all in L.

    `used` is what the tree drew, `drained` what ran out below, `missing` what would
    fill the mix again; `was_full` says that water filled it on this day.
    """

    on: date
    used: float
    rain: float
    watered: float
    drained: float
    missing: float
    was_full: bool


def available_in_container(volume: float) -> tuple[float, float]:
    """Return how much water roots can draw from a container, and how much with ease.

    Parameters
    ----------
    volume : of the container, L

    Returns
    -------
    (total, ready), L.

    Raises
    ------
    ValueError
        When the volume is not above 0.

    Notes
    -----
    The lower ends of the published shares are taken, so that a pot is looked at a
    little early and not too late. A mix of much bark or perlite holds less.

    References
    ----------
    De Boodt, M. & Verdonck, O. (1972), The physical properties of the substrates in
    horticulture, Acta Horticulturae 26, 37-44: 20 to 30 % of the volume is water drawn
    with ease (between 1 and 5 kPa), 4 to 10 % more as a buffer (5 to 10 kPa). From
    memory.
    """
    litres = arguments.number("volume", volume, "L", above=0.0)
    ready = litres * figures.figure("pot_ready_share").value
    return ready + litres * figures.figure("pot_buffer_share").value, ready


def waterings_a_day(draw: float, volume: float) -> int:
    """Return how many times a day a container is to be watered, 1 to 3.

    Parameters
    ----------
    draw : what the tree draws in a day, L
    volume : of the container, L

    Raises
    ------
    ValueError
        When the draw is negative, or the volume not above 0.

    References
    ----------
    Common practice, no source: the next watering comes when 0.8 of the water that
    roots can draw is used up.
    """
    drawn_a_day = arguments.number("draw", draw, "L", at_least=0.0)
    total, _ready = available_in_container(volume)
    due = figures.figure("pot_water_from_share").value * total
    most = int(figures.figure("pot_most_a_day").value)
    return min(most, max(1, math.ceil(drawn_a_day / due)))


def mouth_area(volume: float) -> float:
    """Return the area (m2) that catches rain, of a container as wide as it is high.

    `volume` in L; ValueError when it is not above 0. The shape of a container is not
    on record; as wide as high is common practice, no source.
    """
    litres = arguments.number("volume", volume, "L", above=0.0)
    width = math.pow(litres / 1000 * 4 / math.pi, 1 / 3)
    return math.pi / 4 * width**2


def drawn(missing: float, need: float, *, total: float, ready: float) -> float:
    """Return what a tree draws in a day from a mix in which some water is missing, L.

    Parameters
    ----------
    missing : water missing in the morning, L
    need : what the tree would draw from a full pot, L
    total, ready : as `in_reach` gives them, L

    Returns
    -------
    At most the need and never more than is left.

    Raises
    ------
    ValueError
        When an amount is negative, more is missing than total, or ready is not
        below total.

    Notes
    -----
    While ready water is left the need is met; then the share falls in a straight line
    to 0, as FAO-56 has it. Ground loses little of its water in a day, so there the
    share of the morning may stand for the whole day; a small pot can lose all of it,
    so here the share follows the water through the day: what is left falls by the same
    part in equal times.

    References
    ----------
    Allen et al. (1998), FAO-56, equation 84, solved within the day. From memory.
    """
    capacity = arguments.number("total", total, "L", above=0.0)
    easy = arguments.number("ready", ready, "L", at_least=0.0, below=capacity)
    gone = arguments.number("missing", missing, "L", at_least=0.0, at_most=capacity)
    wanted = arguments.number("need", need, "L", at_least=0.0)
    return _drawn(gone, wanted, capacity, easy)


def _drawn(missing: float, need: float, total: float, ready: float) -> float:
    with_ease = max(0.0, ready - missing)
    if need <= with_ease:
        return need
    left = total - max(missing, ready)
    slower = -math.expm1(-(need - with_ease) / (total - ready))
    return with_ease + left * slower


def _litres(name: str, value: float) -> float:
    # Most are just that: pots by the hundred have years of days.
    if type(value) is float and 0.0 <= value < math.inf:
        return value
    return arguments.number(name, value, "L", at_least=0.0)


def container_balance(
    days: Iterable[tuple[date, float, float, float]],
    volume: float,
    *,
    missing: float = 0.0,
) -> list[PotBalance]:
    """Return a container day by day, from a known beginning.

    Parameters
    ----------
    days : (day, need L, rain caught by the mouth L, watered L) in order, without a gap
    volume : of the container, L
    missing : what is missing at the beginning, L; 0 after water ran through

    Returns
    -------
    One PotBalance for each day.

    Raises
    ------
    ValueError
        When a day is missing or out of order, or a number has no meaning.

    Notes
    -----
    Rain and water come before the day's use, as if in the morning: a pot watered in
    the evening is fuller than told, never emptier.

    References
    ----------
    Allen et al. (1998), FAO-56, equation 85, for the mix in place of the root zone.
    From memory.
    """
    total, ready = available_in_container(volume)
    level = arguments.number("missing", missing, "L", at_least=0.0, at_most=total)
    found: list[PotBalance] = []
    before: date | None = None
    a_day = timedelta(days=1)
    for on, need, rain, watered in days:
        if before is not None and on - before != a_day:
            raise ValueError(
                f"{before} is followed by {on}; allowed is one row for every day."
            )
        before = on
        fallen = _litres("rain", rain)
        given = _litres("watered", watered)
        wanted = _litres("need", need)
        over = fallen + given - level
        level = max(0.0, -over)
        used = _drawn(level, wanted, total, ready)
        level = min(level + used, total)
        found.append(
            PotBalance(on, used, fallen, given, max(0.0, over), level, over >= 0)
        )
    return found


def certain(
    days: Iterable[tuple[date, float, float, float]], volume: float
) -> list[PotBalance]:
    """Return the days of a container that are known, whatever it held at first.

    Parameters
    ----------
    days, volume : as for `balance`

    Returns
    -------
    The days from the first on which rain and water would have filled an empty
    container, for then they filled this one; none while no day did.

    Raises
    ------
    ValueError
        As `balance`.
    """
    total, _ready = available_in_container(volume)
    rows = container_balance(days, volume, missing=total)
    full = (place for place, row in enumerate(rows) if row.was_full)
    first = next(full, None)
    return [] if first is None else rows[first:]
