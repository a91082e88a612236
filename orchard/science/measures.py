"""Measures: what is stored in SI units, written as an orchard reads it."""

from __future__ import annotations

from orchard.science import arguments

# The factors are exact by definition: the inch, foot and mile by the international
# yard, the pound by the international pound, the gallon as 231 cubic inches.
US_UNITS = {
    "°C": ("°F", 1.8),
    "°C·day": ("°F·day", 1.8),
    "mm": ("in", 1 / 25.4),
    "cm": ("in", 1 / 2.54),
    "m": ("ft", 1 / 0.3048),
    "m²": ("sq ft", 1 / 0.3048**2),
    "m/s": ("mph", 1 / 0.44704),
    "g": ("oz", 16 / 453.59237),
    "kg": ("lb", 1 / 0.45359237),
    "L": ("gal", 1 / 3.785411784),
}


def shown(
    value: float, unit: str, system: str, *, difference: bool = False
) -> tuple[float, str]:
    """Return a stored value and its unit as an orchard of that system reads them.

    Parameters
    ----------
    value : in `unit`, as stored.
    unit : one of the stored units; a unit without a US twin comes back as it is.
    system : "metric" or "us".
    difference : the value is a difference of temperatures, so the freezing point of
        the Fahrenheit scale is not added.

    Returns
    -------
    value and the unit it is now in

    Raises
    ------
    ValueError
        When the value is not a finite number or the system is unknown.

    References
    ----------
    NIST: Guide for the Use of the International System of Units, Special
    Publication 811 (2008), appendix B. [from memory]
    """
    figure = arguments.number("value", value, unit)
    if not is_us(system) or unit not in US_UNITS:
        return figure, unit
    us_unit, factor = US_UNITS[unit]
    return figure * factor + freezing_point(unit, difference), us_unit


def stored(value: float, unit: str, system: str, *, difference: bool = False) -> float:
    """Return what a reader of that system typed as the value to store in `unit`.

    Parameters
    ----------
    value : in the US twin of `unit` when `system` is "us" and there is one.
    unit : the unit the value is stored in.
    system : "metric" or "us".
    difference : the value is a difference of temperatures.

    Returns
    -------
    value in `unit`

    Raises
    ------
    ValueError
        When the value is not a finite number or the system is unknown.

    References
    ----------
    NIST: Guide for the Use of the International System of Units, Special
    Publication 811 (2008), appendix B. [from memory]
    """
    figure = arguments.number("value", value, unit)
    if not is_us(system) or unit not in US_UNITS:
        return figure
    return (figure - freezing_point(unit, difference)) / US_UNITS[unit][1]


def freezing_point(unit: str, difference: bool) -> float:
    """Return what the Fahrenheit scale adds to a temperature, and to nothing else."""
    return 32.0 if unit == "°C" and not difference else 0.0


def is_us(system: str) -> bool:
    """Say whether the system is the US one; refuse a system that is none."""
    if system not in ("metric", "us"):
        raise ValueError(f"system is {system!r}; allowed is 'metric' or 'us'.")
    return system == "us"
