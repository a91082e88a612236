"""Heat units: how much warmth above a threshold the days have brought."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from itertools import accumulate as running_sums
from itertools import repeat
from math import acos, pi, sin
from operator import itemgetter, sub
from typing import NamedTuple, overload

from orchard.science import arguments


class DayTemperatures(NamedTuple):
    """The lowest and highest temperature (°C) of one day; a plain triple will do."""

    on: date
    tmin: float
    tmax: float


def degree_days(
    tmin: float, tmax: float, lower: float, upper: float | None = None
) -> float:
    """Return the day's heat units under a single sine with a horizontal cutoff.

    Parameters
    ----------
    tmin, tmax : lowest and highest air temperature of the day, °C
    lower : threshold below which nothing counts, °C
    upper : threshold above which more warmth adds nothing, °C; None for no cutoff

    Returns
    -------
    Heat units of the day, °C·day: at least 0, at most upper - lower.

    Raises
    ------
    ValueError
        When a temperature is missing or not finite, tmin is above tmax, or upper is
        not above lower.

    Notes
    -----
    The day is taken as one full sine wave between tmin and tmax. Warmth above a
    threshold T is B(T); with a cutoff the result is B(lower) - B(upper), which covers
    all six ways the curve can lie against two thresholds.

    References
    ----------
    Baskerville, G. L. & Emin, P. (1969), Rapid estimation of heat accumulation from
    maximum and minimum temperatures, Ecology 50(3), 514-517. From memory.
    """
    sine = _sine(*arguments.day_range(tmin, tmax))
    return _units([sine], *_thresholds(lower, upper))[0]


def degree_days_half_day(
    tmin: float,
    tmax: float,
    next_tmin: float,
    lower: float,
    upper: float | None = None,
) -> float:
    """Return heat units with each half of the day under its own sine.

    Parameters
    ----------
    tmin, tmax, lower, upper : as for `degree_days`, °C
    next_tmin : lowest temperature of the following day, °C

    Returns
    -------
    Heat units of the day, °C·day.

    Raises
    ------
    ValueError
        As `degree_days`; also when next_tmin is above tmax.

    References
    ----------
    Allen, J. C. (1976), A modified sine wave method for calculating degree days,
    Environmental Entomology 5(3), 388-396. From memory.
    """
    return (
        degree_days(tmin, tmax, lower, upper)
        + degree_days(next_tmin, tmax, lower, upper)
    ) / 2


def accumulate(
    days: Iterable[tuple[date, float, float]],
    lower: float,
    upper: float | None = None,
    start: date | None = None,
) -> list[tuple[date, float]]:
    """Return the running sum of heat units at the end of each day.

    Parameters
    ----------
    days : (day, tmin, tmax) with temperatures in °C, in any order
    lower, upper : thresholds, °C, as for `degree_days`
    start : first day that counts; None for the earliest day given

    Returns
    -------
    (day, sum in °C·day) in the order of the days; empty when `start` lies after the
    last day, for then nothing has been counted yet.

    Raises
    ------
    ValueError
        When there are no days, a day stands twice, a day between start and the last
        day is missing, or a temperature has no meaning. A gap is never bridged.
    """
    ordered = _in_order(days)
    first = arguments.day("start", start) if start is not None else ordered[0][0]
    counted = [row for row in ordered if row[0] >= first]
    on = [row[0] for row in counted]
    _refuse_gaps([first - timedelta(days=1), *on])
    units = _units(_sines(counted), *_thresholds(lower, upper))
    return list(zip(on, running_sums(units), strict=True))


class RunningSums(Sequence[tuple[date, float]]):
    """Days with their running sums, °C·day, each worked out when it is asked for."""

    __slots__ = ("_on", "_places", "_total")

    def __init__(
        self, on: Sequence[date], total: Sequence[float], places: range
    ) -> None:
        """Take the days, the sums before each and after the last, and which count."""
        self._on, self._total, self._places = on, total, places

    def __len__(self) -> int:
        return len(self._places)

    @overload
    def __getitem__(self, number: int) -> tuple[date, float]: ...

    @overload
    def __getitem__(self, number: slice) -> list[tuple[date, float]]: ...

    def __getitem__(
        self, number: int | slice
    ) -> tuple[date, float] | list[tuple[date, float]]:
        if isinstance(number, slice):
            return list(self)[number]
        place = self._places[number]
        return self._on[place], self._total[place + 1] - self._total[self._places[0]]

    def __iter__(self) -> Iterator[tuple[date, float]]:
        if not self._places:
            return iter(())
        first, end = self._places[0], self._places[-1] + 1
        totals = self._total[first + 1 : end + 1]
        sums = map(sub, totals, repeat(self._total[first]))
        return zip(self._on[first:end], sums, strict=True)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and list(self) == list(other)


class Sums:
    """Heat units of many days, reckoned once, for running sums from many starts.

    Cultivar groups bloom on days of their own; where they count by the same thresholds
    the costly part, the sine of each day, is done once for all of them.
    """

    __slots__ = ("_on", "_total", "_units", "first", "last")

    def __init__(
        self,
        days: Iterable[tuple[date, float, float]],
        lower: float,
        upper: float | None = None,
    ) -> None:
        """Reckon each day; arguments and errors as for `accumulate`."""
        ordered = _in_order(days)
        self._on = [row[0] for row in ordered]
        _refuse_gaps(self._on)
        self._units = _units(_sines(ordered), *_thresholds(lower, upper))
        self._total = [0.0, *running_sums(self._units)]
        self.first, self.last = self._on[0], self._on[-1]

    @property
    def units(self) -> list[tuple[date, float]]:
        """The units of each day, °C·day."""
        return list(zip(self._on, self._units, strict=True))

    def between(self, start: date, end: date) -> float:
        """Return the sum from one day to another, both included, °C·day.

        Raises ValueError when a day lies outside those given, or end before start.
        """
        return self._total[self._place(end) + 1] - self._total[self._place(start)]

    def since(self, start: date, end: date | None = None) -> RunningSums:
        """Return (day, running sum, °C·day) from a day on; errors as `between`."""
        first = self._place(start)
        last = self._place(end) if end is not None else len(self._on) - 1
        return RunningSums(self._on, self._total, range(first, last + 1))

    def _place(self, on: date) -> int:
        place = (arguments.day("on", on) - self.first).days
        if not 0 <= place < len(self._on):
            raise ValueError(
                f"{on} has no temperatures; allowed is {self.first} to {self.last}."
            )
        return place


def reached_on(sums: Sequence[tuple[date, float]], target: float) -> date | None:
    """Return the first day whose running sum is at least the target, or None."""
    goal = arguments.number("target", target, "°C·day", at_least=0.0)
    return next((on for on, total in sums if total >= goal), None)


def expected_date(
    so_far: float, target: float, normals: Sequence[tuple[date, float]]
) -> date | None:
    """Return the day at whose end the running sum is expected to reach the target.

    Parameters
    ----------
    so_far : heat units already counted, °C·day
    target : heat units at which the event is expected, °C·day
    normals : (day, usual heat units of that day) for the coming days, in order and
        without gaps, beginning with the first day not yet in `so_far`

    Returns
    -------
    The day, or None when the days given do not bring enough warmth.

    Raises
    ------
    ValueError
        When a number has no meaning, the days are empty, out of order or have a gap,
        or the target is already reached (then `reached_on` has the day).
    """
    total = arguments.number("so_far", so_far, "°C·day", at_least=0.0)
    goal = arguments.number("target", target, "°C·day", above=0.0)
    if total >= goal:
        raise ValueError(
            f"so_far is {total:g} °C·day, which already reaches the target of "
            f"{goal:g}; allowed is less than the target."
        )
    if not normals:
        raise ValueError("normals is empty; allowed is at least one coming day.")
    _refuse_gaps([on for on, _ in normals])
    for on, usual in normals:
        total += arguments.number(f"normals of {on}", usual, "°C·day", at_least=0.0)
        if total >= goal:
            return on
    return None


def usual_days(
    history: Iterable[tuple[date, float]],
    start: date,
    days: int,
    *,
    half_window: int = 7,
) -> list[tuple[date, float]]:
    """Return the usual heat units of coming days, from the orchard's own past.

    Parameters
    ----------
    history : (day, heat units in °C·day) of past days
    start : first coming day
    days : how many coming days
    half_window : days before and after the same calendar day that are averaged

    Returns
    -------
    (day, mean heat units in °C·day), ready for `expected_date`.

    Raises
    ------
    ValueError
        When a coming day has no past day within the window.

    Notes
    -----
    A plain mean over all past years of the days within the window; 29 February counts
    as 28 February. Common practice, no source.
    """
    arguments.day("start", start)
    whole_days = arguments.whole("days", days, at_least=1)
    reach = arguments.whole("half_window", half_window, at_most=45)
    by_day: dict[int, list[float]] = {}
    for on, value in history:
        units = arguments.number(f"history of {on}", value, "°C·day", at_least=0.0)
        by_day.setdefault(_day_of_common_year(on), []).append(units)
    usual: list[tuple[date, float]] = []
    for ahead in range(whole_days):
        on = start + timedelta(days=ahead)
        centre = _day_of_common_year(on)
        near = [
            units
            for shift in range(-reach, reach + 1)
            for units in by_day.get((centre + shift) % 365, ())
        ]
        if not near:
            raise ValueError(
                f"history has no day within {reach} days of {on:%d %B}; allowed is a "
                f"history that covers every coming day."
            )
        usual.append((on, math.fsum(near) / len(near)))
    return usual


def _day_of_common_year(on: date) -> int:
    day_of_month = 28 if (on.month, on.day) == (2, 29) else on.day
    return date(2001, on.month, day_of_month).timetuple().tm_yday - 1


def _thresholds(lower: float, upper: float | None) -> tuple[float, float | None]:
    base = arguments.temperature("lower", lower)
    if upper is None:
        return base, None
    cap = arguments.temperature("upper", upper)
    if cap <= base:
        raise ValueError(
            f"upper is {cap:g} °C, lower is {base:g} °C; allowed is upper above lower."
        )
    return base, cap


def _in_order(
    days: Iterable[tuple[date, float, float]],
) -> list[tuple[date, float, float]]:
    ordered = sorted(days, key=itemgetter(0))
    if not ordered:
        raise ValueError("days is empty; allowed is at least one day of temperatures.")
    return ordered


def _sines(days: Iterable[tuple[date, float, float]]) -> list[tuple[float, float]]:
    """Return the middle and the amplitude of each day's sine, its range checked."""
    coldest, hottest = arguments.COLDEST_C, arguments.HOTTEST_C
    return [
        # Times a half: Python takes longer to divide than to multiply.
        ((tmin + tmax) * 0.5, (tmax - tmin) * 0.5)
        if type(tmin) is type(tmax) is float and coldest <= tmin <= tmax <= hottest
        # What is not plainly right is asked about, and refused in words.
        else _sine(*arguments.day_range(tmin, tmax))
        for _, tmin, tmax in days
    ]


def _sine(tmin: float, tmax: float) -> tuple[float, float]:
    return (tmin + tmax) * 0.5, (tmax - tmin) * 0.5


def _units(
    sines: Sequence[tuple[float, float]], lower: float, upper: float | None
) -> list[float]:
    """Return the heat units of each day from its sine."""
    warmth = _areas_above(lower, sines)
    excess = [0.0] * len(sines) if upper is None else _areas_above(upper, sines)
    # Subtracting two nearly equal areas may leave -1e-15.
    return [
        whole - cut if whole > cut else 0.0
        for whole, cut in zip(warmth, excess, strict=True)
    ]


def _areas_above(threshold: float, sines: Iterable[tuple[float, float]]) -> list[float]:
    """Return the area of each day's sine above a threshold, from middle and amplitude.

    For whole columns of days, since a call for each day would take most of the time.
    """
    inverse_pi = 1 / pi
    return [
        over
        if (over := middle - threshold) >= amplitude
        else 0.0
        if over <= -amplitude
        # The sine of the angle at which the curve crosses is sqrt(1 - share**2).
        else amplitude
        * inverse_pi
        * ((share := over / amplitude) * (angle := acos(-share)) + sin(angle))
        for middle, amplitude in sines
    ]


def _refuse_gaps(days: Sequence[date]) -> None:
    numbers = list(map(date.toordinal, days))
    if numbers == list(range(numbers[0], numbers[0] + len(numbers))):
        return
    for earlier, later in zip(days, days[1:], strict=False):
        if later - earlier != timedelta(days=1):
            raise ValueError(
                f"{earlier} is followed by {later}; allowed is one row for every day."
            )
