"""May it be picked: what a test of some fruit says, by its standard and its taste."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from orchard.science import arguments
from orchard.science.figures import figure
from orchard.science.ripeness import standards
from orchard.science.ripeness.standards import Ripeness

# The yardsticks an orchard can choose from; the others stand in, in this order,
# where the chosen one says nothing of a kind.
STANDARDS = ("unece_ffv14", "western_australia")
EDITIONS = ("unece_ffv14", "unece_ffv14_older", "western_australia")

# The kind of maturity of fruit that no sugar, acid or juice tells anything about.
BY_COLOUR = "colour"


class Readiness(StrEnum):
    """What a test says of the fruit it was taken from."""

    READY = "ready"
    NOT_MEASURED = "not_measured"
    NOT_YET = "not_yet"
    UNDECIDED = "undecided"


class Yardstick(StrEnum):
    """By what fruit is judged."""

    STANDARD = "standard"
    TASTE = "taste"
    COLOUR = "colour"


@dataclass(frozen=True, slots=True)
class Assessment:
    """What a test shows, by what it was judged, and each part of the answer.

    `ripeness` is None where no standard fits. `tasty`, `coloured` and `scented` are
    None where nobody said, or too few did.
    """

    readiness: Readiness
    yardstick: Yardstick
    ripeness: Ripeness | None = None
    tasty: bool | None = None
    coloured: bool | None = None
    scented: bool | None = None


def judge_readiness(
    cultivar: str,
    maturity: str,
    *,
    fruits: int,
    standard: str = "unece_ffv14",
    brix: float | None = None,
    acid: float | None = None,
    juice_percent: float | None = None,
    taste: int | None = None,
    tasters: int | None = None,
    colour_percent: float | None = None,
    scented: bool | None = None,
) -> Assessment:
    """Tell from the middle values of some fruit whether the rest may be picked.

    Parameters
    ----------
    cultivar, maturity : name and kind of fruit, as the guide has them
    fruits : how many were tested
    standard : the orchard's yardstick, one of EDITIONS
    brix : soluble solids at 20 °C, °Brix; None when not measured, as all that follow
    acid : anhydrous citric acid, %
    juice_percent : juice as percent of fruit mass
    taste : middle of all tasters, 1, sour or bitter, to 5, as good as it gets
    tasters : how many people tasted
    colour_percent : share of the rind that is yellow, %
    scented : whether it smells as it should

    Returns
    -------
    Assessment. Ready when every minimum of the standard is met and the taste is good;
    not yet when one of them fails; not measured when the taste is good and nothing
    fails, but a figure is wanting. Where no standard covers the kind, the taste alone
    decides, and of fruit judged by colour the rind and the scent. Too few fruit or
    tasters decide nothing.

    Raises
    ------
    ValueError
        When a figure is out of range.

    References
    ----------
    UNECE standard FFV-14 and the internal maturity standards of Western Australia.
    Taste, colour, and number of fruit and tasters: common practice, no source.
    """
    enough = fruits >= figure("ripeness_fewest_fruit").value
    arguments.number("fruits", float(fruits), at_least=1.0)
    if maturity == BY_COLOUR:
        return _by_colour(colour_percent, scented, enough=enough)
    tasty = _tasty(taste, tasters)
    found = _by_standard(cultivar, maturity, standard, brix, acid, juice_percent)
    met = True if found is None else found.meets
    if not enough:
        readiness = Readiness.UNDECIDED
    elif met is False or tasty is False:
        readiness = Readiness.NOT_YET
    elif not tasty:
        readiness = Readiness.UNDECIDED
    else:
        readiness = Readiness.READY if met else Readiness.NOT_MEASURED
    yardstick = Yardstick.TASTE if found is None else Yardstick.STANDARD
    return Assessment(readiness, yardstick, ripeness=found, tasty=tasty)


def _by_colour(
    colour_percent: float | None, scented: bool | None, *, enough: bool
) -> Assessment:
    coloured = None
    if colour_percent is not None:
        yellow = arguments.number(
            "colour_percent", colour_percent, "%", at_least=0.0, at_most=100.0
        )
        coloured = yellow >= figure("ripeness_least_colour_percent").value
    readiness = Readiness.UNDECIDED
    if enough and False in (coloured, scented):
        readiness = Readiness.NOT_YET
    elif enough and coloured and scented:
        readiness = Readiness.READY
    return Assessment(readiness, Yardstick.COLOUR, coloured=coloured, scented=scented)


def _tasty(taste: int | None, tasters: int | None) -> bool | None:
    if taste is None:
        return None
    middle = arguments.number("taste", float(taste), at_least=1.0, at_most=5.0)
    if (tasters or 1) < figure("ripeness_fewest_tasters").value:
        return None
    return middle >= figure("ripeness_least_taste").value


def _by_standard(
    cultivar: str,
    maturity: str,
    chosen: str,
    brix: float | None,
    acid: float | None,
    juice_percent: float | None,
) -> Ripeness | None:
    for standard in dict.fromkeys((chosen, *STANDARDS)):
        kind = standards.fruit_kind(cultivar, maturity, standard)
        if kind is not None:
            return standards.meets(kind, brix, acid, juice_percent, standard)
    return None
