"""Is there a trend: how steep, and whether chance would do as well."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date
from statistics import NormalDist, median

from orchard.science import arguments

_EXACT_BELOW = 10  # with fewer values the normal form is too rough


def theil_sen(
    times: Sequence[float] | Sequence[date],
    values: Sequence[float],
    confidence: float = 0.95,
) -> tuple[float, float, float]:
    """Return the slope that half of all pairs exceed, with its interval.

    Parameters
    ----------
    times : when each value was taken: numbers, or dates (then the slope is per day);
        uneven gaps are right, so pass dates and not the number of the visit
    values : what was measured
    confidence : of the interval, above 0 to below 1

    Returns
    -------
    (slope, low, high), values per unit of time. Where there are too few values for the
    interval to have an end, low is -inf and high is inf (at 95 %: below five values).

    Raises
    ------
    ValueError
        When times and values differ in number, are fewer than two, hold something that
        is not a finite number, or all times are the same.

    References
    ----------
    Sen, P. K. (1968), Estimates of the regression coefficient based on Kendall's tau,
    Journal of the American Statistical Association 63, 1379-1389. Example read.
    """
    xs, ys = _pairs(times, values)
    sure = arguments.number("confidence", confidence, above=0.0, below=1.0)
    slopes = sorted(
        (ys[later] - ys[earlier]) / (xs[later] - xs[earlier])
        for later in range(len(xs))
        for earlier in range(later)
        if xs[later] != xs[earlier]
    )
    if not slopes:
        raise ValueError("times are all the same; allowed is at least two moments.")
    spread = math.sqrt(max(_variance(len(ys), xs, ys), 0.0))
    reach = NormalDist().inv_cdf((1 + sure) / 2) * spread
    # Ranks of the slopes that bound the interval (Sen 1968, section 6).
    lower = round((len(slopes) - reach) / 2) - 1
    upper = round((len(slopes) + reach) / 2)
    low = slopes[lower] if lower >= 0 else -math.inf
    high = slopes[upper] if upper < len(slopes) else math.inf
    return median(slopes), low, high


def intercept(
    times: Sequence[float] | Sequence[date], values: Sequence[float], slope: float
) -> float:
    """Return where a line of that slope through the medians meets time 0.

    Median of values - slope * median of times; with dates, time 0 is day 0 of the
    calendar's count (date.toordinal). Errors as for `theil_sen`.
    """
    xs, ys = _pairs(times, values)
    return median(ys) - arguments.number("slope", slope) * median(xs)


def mann_kendall(values: Sequence[float]) -> tuple[float, float, float]:
    """Return whether values rise or fall more than chance would have them.

    Parameters
    ----------
    values : in the order of time, at least three

    Returns
    -------
    (tau, z, p): tau from -1 (always falling) to 1 (always rising); z of the normal
    form; p two-sided. All values alike gives (0, 0, 1): no trend.

    Raises
    ------
    ValueError
        When there are fewer than three values or one is not a finite number.

    Notes
    -----
    Below ten values without ties p is exact, from all orders; then even a steady fall
    of four values has p 0.083. With ties or from ten values on p is that of the normal
    form with continuity and tie correction.

    References
    ----------
    Gilbert, R. O. (1987), Statistical Methods for Environmental Pollution Monitoring,
    chapter 16 and Table A18. From memory; the exact values computed anew.
    """
    ys = [arguments.number("values", value) for value in values]
    count = len(ys)
    if count < 3:
        raise ValueError(f"values holds {count}; allowed is at least three.")
    score = sum(
        (ys[later] > ys[earlier]) - (ys[later] < ys[earlier])
        for later in range(count)
        for earlier in range(later)
    )
    tau = score / (count * (count - 1) / 2)
    variance = _variance(count, (), ys)
    if score == 0 or variance <= 0:
        return tau, 0.0, 1.0
    z = (score - math.copysign(1, score)) / math.sqrt(variance)
    if count < _EXACT_BELOW and len(set(ys)) == count:
        return tau, z, min(2 * exact_tail(abs(score), count), 1.0)
    return tau, z, min(2 * NormalDist().cdf(-abs(z)), 1.0)


def exact_tail(score: int, count: int) -> float:
    """Return the chance that a random order of values without ties scores at least so.

    score is Mann-Kendall's S, count the number of values, 2 to 60. One-sided.
    Gilbert (1987), Table A18: 4 values, S 6 gives 0.042. From memory.
    """
    number = arguments.whole("count", count, at_least=2, at_most=60)
    most = number * (number - 1) // 2
    wanted = arguments.whole("score", score, at_least=-most, at_most=most)
    # Orders of n values by their number of falling pairs, built up value by value.
    orders = [1]
    for size in range(2, number + 1):
        grown = [0] * (len(orders) + size - 1)
        for falling, ways in enumerate(orders):
            for more in range(size):
                grown[falling + more] += ways
        orders = grown
    # S = pairs - 2 * falling pairs.
    most_falling = (most - wanted) // 2
    return sum(orders[: most_falling + 1]) / math.factorial(number)


def _variance(count: int, xs: Iterable[float], ys: Iterable[float]) -> float:
    def weight(size: int) -> int:
        return size * (size - 1) * (2 * size + 5)

    ties = sum(weight(size) for axis in (xs, ys) for size in Counter(axis).values())
    return (weight(count) - ties) / 18


def _pairs(
    times: Sequence[float] | Sequence[date], values: Sequence[float]
) -> tuple[list[float], list[float]]:
    if len(times) != len(values):
        raise ValueError(
            f"times holds {len(times)}, values {len(values)}; allowed is as many."
        )
    if len(times) < 2:
        raise ValueError(f"times holds {len(times)}; allowed is at least two.")
    xs = [
        float(arguments.day("times", when).toordinal())
        if isinstance(when, date)
        else arguments.number("times", when)
        for when in times
    ]
    return xs, [arguments.number("values", value) for value in values]
