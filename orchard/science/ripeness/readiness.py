"""May it be picked: what a test of some fruit says, by a standard or by taste."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from orchard.science import arguments
from orchard.science.figures import figure
from orchard.science.ripeness import standards
from orchard.science.ripeness.standards import Ripeness

# The yardstick, and what stands in where it says nothing of a kind.
STANDARDS = ("unece_ffv14", "western_australia")


class Readiness(StrEnum):
    """What a test says of the fruit it was taken from."""

    READY = "ready"
    TASTE_AGAIN = "taste_again"
    NOT_YET = "not_yet"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Assessment:
    """What a test shows, and by which standard; None where no standard fits.

    `by_taste` means that the taste decided, because the standard could not.
    """

    readiness: Readiness
    ripeness: Ripeness | None
    by_taste: bool = False


def judge_readiness(
    cultivar: str,
    maturity: str,
    *,
    fruits: int,
    brix: float | None = None,
    acid: float | None = None,
    juice_percent: float | None = None,
    taste: int | None = None,
) -> Assessment:
    """Tell from the middle values of some fruit whether the rest may be picked.

    Parameters
    ----------
    cultivar, maturity : name and kind of fruit, as the guide has them
    fruits : how many were tested
    brix : soluble solids at 20 °C, °Brix; None when not measured, as all that follow
    acid : anhydrous citric acid, %
    juice_percent : juice as percent of fruit mass
    taste : 1, sour or bitter, to 5, as good as it gets

    Returns
    -------
    Assessment. All minima met: ready. Missed by a tenth at most: taste again. Where
    nothing measured is missed but a figure is wanting, or where no standard covers the
    kind, the taste decides; with too few fruit nothing does.

    Raises
    ------
    ValueError
        When a figure is out of range.

    References
    ----------
    UNECE standard FFV-14; where it says nothing of a kind, the internal maturity
    standards of Western Australia. Taste and number of fruit: common practice, no
    source.
    """
    count = arguments.number("fruits", float(fruits), at_least=1.0)
    if taste is not None:
        arguments.number("taste", float(taste), at_least=1.0, at_most=5.0)
    found = _by_standard(cultivar, maturity, brix, acid, juice_percent)
    if count < figure("ripeness_fewest_fruit").value:
        return Assessment(Readiness.UNDECIDED, found)
    if found is not None and found.meets is not None:
        if found.meets:
            return Assessment(Readiness.READY, found)
        near = Readiness.TASTE_AGAIN if found.nearly else Readiness.NOT_YET
        return Assessment(near, found)
    if taste is None:
        return Assessment(Readiness.UNDECIDED, found)
    good = figure("ripeness_good_taste").value
    if taste >= good:
        return Assessment(Readiness.READY, found, by_taste=True)
    near = Readiness.TASTE_AGAIN if taste == good - 1 else Readiness.NOT_YET
    return Assessment(near, found, by_taste=True)


def _by_standard(
    cultivar: str,
    maturity: str,
    brix: float | None,
    acid: float | None,
    juice_percent: float | None,
) -> Ripeness | None:
    for standard in STANDARDS:
        kind = standards.fruit_kind(cultivar, maturity, standard)
        if kind is not None:
            return standards.meets(kind, brix, acid, juice_percent, standard)
    return None
