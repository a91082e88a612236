"""How many to look at, and how sure "not seen" is."""

from __future__ import annotations

import math
from statistics import NormalDist

from orchard.science import arguments

# Chances are compared to this relative margin, so that a lot which needs exactly so
# many looks is not asked for one more by rounding.
_MARGIN = 1e-9


def size_to_detect(
    prevalence: float,
    confidence: float,
    population: int | None = None,
    sensitivity: float = 1.0,
) -> int:
    """Return how many units to look at to find at least one that is infested.

    Parameters
    ----------
    prevalence : share of units infested that must not be missed, above 0 to 1
    confidence : chance of finding one, above 0 to below 1
    population : number of units there are; None for a population without end
    sensitivity : chance that a look at an infested unit finds it, above 0 to 1

    Returns
    -------
    Smallest whole number of units, drawn at random.

    Raises
    ------
    ValueError
        When a share is out of range, the population is smaller than one infested unit
        at that prevalence, or looking at all of them would not be enough.

    Notes
    -----
    In a population without end a look misses with chance 1 - prevalence * sensitivity.
    In a counted one the infested units are population * prevalence rounded down, as in
    the standard, and looks are without replacement (hypergeometric); each infested unit
    drawn is seen with chance `sensitivity` on its own.

    References
    ----------
    FAO/IPPC (2008), ISPM 31, Methodologies for sampling of consignments, Appendices 1
    to 3. From memory, and computed anew.
    """
    share, sure = _share("prevalence", prevalence), _below_one("confidence", confidence)
    seen = _share("sensitivity", sensitivity)
    missed = 1.0 - sure
    if population is None:
        chance = share * seen
        if chance >= 1.0:
            return 1
        count = math.log(missed) / math.log1p(-chance)
        return max(math.ceil(count - _MARGIN * count), 1)
    total, infested = _infested(population, share)
    limit = missed * (1.0 + _MARGIN)
    if _chance_of_none(total, total, infested, seen) > limit:
        raise ValueError(
            f"sensitivity is {seen:g}: even looking at all {total} finds one with less "
            f"than {sure:g}; allowed is a lower confidence or a better look."
        )
    low, high = 1, total
    while low < high:
        middle = (low + high) // 2
        if _chance_of_none(middle, total, infested, seen) <= limit:
            high = middle
        else:
            low = middle + 1
    return low


def confidence_of_absence(
    checked: int,
    prevalence: float,
    population: int | None = None,
    sensitivity: float = 1.0,
) -> float:
    """Return how sure it is that fewer than a given share are infested.

    Parameters
    ----------
    checked : units looked at without finding anything
    prevalence, population, sensitivity : as for `size_to_detect`

    Returns
    -------
    Chance, 0 to 1, that at least one would have been found, had that share been
    infested. Nothing looked at gives 0.

    Raises
    ------
    ValueError
        As `size_to_detect`; also when more were checked than there are.

    References
    ----------
    As for `size_to_detect`.
    """
    share, seen = _share("prevalence", prevalence), _share("sensitivity", sensitivity)
    looks = arguments.whole("checked", checked)
    if population is None:
        return 1.0 - (1.0 - share * seen) ** looks
    total, infested = _infested(population, share)
    if looks > total:
        raise ValueError(
            f"checked is {looks}, population {total}; allowed is checked <= population."
        )
    return 1.0 - min(_chance_of_none(looks, total, infested, seen), 1.0)


def wilson(
    positive: int, checked: int, confidence: float = 0.95
) -> tuple[float, float]:
    """Return the range in which the true share lies, from a count.

    Parameters
    ----------
    positive : units found infested
    checked : units looked at, at least 1
    confidence : two-sided, above 0 to below 1

    Returns
    -------
    (low, high), shares from 0 to 1; exactly 0 when none and exactly 1 when all are.

    Raises
    ------
    ValueError
        When a count is negative or not whole, nothing was checked, or more are positive
        than were checked.

    References
    ----------
    Wilson score interval without continuity correction: Newcombe, R. G. (1998),
    Two-sided confidence intervals for the single proportion, Statistics in Medicine 17,
    857-872, method 3. From memory.
    """
    looks = arguments.whole("checked", checked, at_least=1)
    found = arguments.whole("positive", positive, at_most=looks)
    z = NormalDist().inv_cdf((1 + _below_one("confidence", confidence)) / 2)
    share, spread = found / looks, z * z / looks
    centre = (share + spread / 2) / (1 + spread)
    half = z * math.sqrt(share * (1 - share) / looks + spread / (4 * looks))
    half /= 1 + spread
    low = 0.0 if found == 0 else max(centre - half, 0.0)
    high = 1.0 if found == looks else min(centre + half, 1.0)
    return low, high


def upper_when_none_seen(checked: int, confidence: float = 0.95) -> float:
    """Return the largest share that may still be infested when none was seen.

    One-sided: 1 - (1 - confidence) ** (1 / checked), about 3 / checked at 95 %. Not the
    upper end of the two-sided `wilson`, which is wider.

    Raises ValueError when nothing was checked or the confidence is out of range.
    Hanley, J. A. & Lippman-Hand, A. (1983), If nothing goes wrong, is everything all
    right?, JAMA 249, 1743-1745. From memory.
    """
    looks = arguments.whole("checked", checked, at_least=1)
    sure = _below_one("confidence", confidence)
    return 1.0 - math.pow(1.0 - sure, 1.0 / looks)


def _share(name: str, value: float) -> float:
    return arguments.number(
        name, value, "(a share: 0.05 is 5 %)", above=0.0, at_most=1.0
    )


def _below_one(name: str, value: float) -> float:
    return arguments.number(
        name, value, "(a share: 0.95 is 95 %)", above=0.0, below=1.0
    )


def _infested(population: int, share: float) -> tuple[int, int]:
    total = arguments.whole("population", population, at_least=1)
    # 0.05 * 60 must be 3 and not 2.9999.
    infested = math.floor(total * share * (1 + _MARGIN))
    if infested < 1:
        raise ValueError(
            f"prevalence is {share:g}, less than one of {total}; allowed is at least "
            f"{1 / total:.4f}."
        )
    return total, min(infested, total)


def _chance_of_none(looks: int, total: int, infested: int, seen: float) -> float:
    """Return the chance that `looks` units show nothing though `infested` are."""
    sound = total - infested
    if seen >= 1.0:
        if looks > sound:
            return 0.0
        # C(sound, looks) / C(total, looks), by the shorter of two equal products.
        few, span = min(infested, looks), max(infested, looks)
        logs = math.fsum(math.log1p(-span / (total - index)) for index in range(few))
        return math.exp(logs)
    least, most = max(0, looks - sound), min(looks, infested)
    whole = _log_choose(total, looks)
    return math.fsum(
        math.exp(
            _log_choose(infested, drawn)
            + _log_choose(sound, looks - drawn)
            - whole
            + drawn * math.log1p(-seen)
        )
        for drawn in range(least, most + 1)
    )


def _log_choose(total: int, drawn: int) -> float:
    return (
        math.lgamma(total + 1) - math.lgamma(drawn + 1) - math.lgamma(total - drawn + 1)
    )
