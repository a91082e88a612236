"""Juice: its acid, its sugar, and the figures made of them."""

from __future__ import annotations

from orchard.science import arguments, figures

# 192.12 g/mol of anhydrous citric acid with three acid groups, per milliequivalent.
_CITRIC_G_PER_MEQ = 0.06404
_COLUMNS = (10.0, 15.0, 20.0, 25.0)  # °Brix of the columns of the correction table


def sugar(brix: float) -> float:
    """Return soluble solids in °Brix, refusing what no juice has."""
    return arguments.number("brix", brix, "°Brix", at_least=0.0, at_most=40.0)


def sourness(acid: float) -> float:
    """Return acid in %, refusing what no juice has."""
    return arguments.number("acid", acid, "%", at_least=0.0, at_most=15.0)


def acid_percent(titrant_ml: float, normality: float, juice_ml: float) -> float:
    """Return the acid of juice from a titration with sodium hydroxide.

    Parameters
    ----------
    titrant_ml : hydroxide used, mL
    normality : its strength, mol/L, above 0 to 2
    juice_ml : juice titrated, mL

    Returns
    -------
    Acid as anhydrous citric acid, g per 100 mL.

    Raises
    ------
    ValueError
        When a figure is missing or out of range.

    References
    ----------
    AOAC Official Method 942.15, equivalent weight 192.12 / 3 = 64.04. From memory;
    worked example read. Hydrous acid (70.05) would read 9 % higher.
    """
    used = arguments.number("titrant_ml", titrant_ml, "mL", at_least=0.0)
    strength = arguments.number("normality", normality, "mol/L", above=0.0, at_most=2)
    juice = arguments.number("juice_ml", juice_ml, "mL", above=0.0)
    return used * strength * _CITRIC_G_PER_MEQ * 100.0 / juice


def ratio(brix: float, acid: float) -> float:
    """Return sugar over acid.

    Parameters
    ----------
    brix : soluble solids, °Brix, 0 to 40
    acid : acid, %, above 0 to 15

    Returns
    -------
    Ratio, without unit.

    Raises
    ------
    ValueError
        When a figure is missing or out of range; acid 0 has no ratio.

    References
    ----------
    Definition, as in UNECE FFV-14.
    """
    return sugar(brix) / arguments.number("acid", acid, "%", above=0.0, at_most=15.0)


def brima(brix: float, acid: float, *, k: float, scale: float = 1.0) -> float:
    """Return sugar less k times acid, times a scale.

    Notes
    -----
    brix in °Brix, acid in %; k is a matter of the fruit, so there is no default.

    References
    ----------
    Jordan, R. B., Seelye, R. J. & McGlone, V. A. (2001), A sensory-based alternative to
    Brix/acid ratio, Food Technology 55(6), 36-44. From memory.
    """
    weight = arguments.number("k", k, at_least=0.0, at_most=10.0)
    factor = arguments.number("scale", scale, above=0.0, at_most=100.0)
    return (sugar(brix) - weight * sourness(acid)) * factor


def juice_percent(juice_g: float, fruit_g: float) -> float:
    """Return juice as percent of fruit mass, both in g or both in kg.

    Raises
    ------
    ValueError
        When more juice than fruit was weighed.

    References
    ----------
    Definition of Codex and UNECE standards, by hand press.
    """
    fruit = arguments.number("fruit_g", fruit_g, above=0.0)
    juice = arguments.number("juice_g", juice_g, at_least=0.0, at_most=fruit)
    return 100.0 * juice / fruit


def correct_brix(reading: float, t: float) -> float:
    """Return a refractometer reading as it would be at 20 °C.

    Parameters
    ----------
    reading : °Brix as read, 0 to 30
    t : temperature of juice and prism, °C, 10 to 30

    Returns
    -------
    °Brix at 20 °C.

    Raises
    ------
    ValueError
        When the reading or the temperature is missing or out of range.

    Notes
    -----
    Not for an instrument that corrects by itself. Between the printed temperatures and
    columns the value lies on straight lines; below 10 and above 25 °Brix the outermost
    column holds, which is off by about 0.1 at most.

    References
    ----------
    OIV, Compendium of international methods, OIV-MA-AS2-02, Table I: 10 to 17 °C read,
    above 20 °C from memory.
    """
    brix = arguments.number("reading", reading, "°Brix", at_least=0.0, at_most=30.0)
    celsius = arguments.number("t", t, "°C", at_least=10.0, at_most=30.0)
    lines = [
        (float(row["t_c"]), _between(_COLUMNS, row["values"], brix))
        for row in figures.rows("brix_correction", "ripeness.toml")
    ]
    return brix + _between([at for at, _ in lines], [add for _, add in lines], celsius)


def _between(xs: list[float] | tuple[float, ...], ys: list[float], x: float) -> float:
    if x <= xs[0]:
        return ys[0]
    for index in range(1, len(xs)):
        if x <= xs[index]:
            share = (x - xs[index - 1]) / (xs[index] - xs[index - 1])
            return ys[index - 1] + (ys[index] - ys[index - 1]) * share
    return ys[-1]
