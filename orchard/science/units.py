"""Measures: what is stored in SI units, written as an orchard reads it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from orchard.science import arguments


@dataclass(frozen=True, slots=True)
class Scale:
    """A unit to read and type in: stored = (typed - zero) * step."""

    unit: str
    step: float = 1.0
    zero: float = 0.0

    def stored(self, typed: float) -> float:
        """Return the value to store for what was typed in this unit."""
        return (typed - self.zero) * self.step

    def shown(self, value: float) -> float:
        """Return a stored value in this unit."""
        return value / self.step + self.zero


# The factors are exact by definition: the inch, foot and mile by the international
# yard, the pound by the international pound, the gallon as 231 cubic inches, the fluid
# ounce as its 128th.
US_UNITS = {
    "°C": Scale("°F", 5 / 9, 32.0),
    "°C·day": Scale("°F·day", 5 / 9),
    "mm": Scale("in", 25.4),
    "cm": Scale("in", 2.54),
    "m": Scale("ft", 0.3048),
    "m²": Scale("sq ft", 0.3048**2),
    "m/s": Scale("mph", 0.44704),
    "g": Scale("oz", 453.59237 / 16),
    "kg": Scale("lb", 0.45359237),
    "L": Scale("gal", 3.785411784),
    "mL": Scale("fl oz", 3785.411784 / 128),
}
_FIGURE = r"-?\d+(?:\.\d+)?"
_IN_TEXT = re.compile(
    rf"(?<![\w.-])({_FIGURE})(?:( to | and | or |–)({_FIGURE}))? (mm|cm|m|°C|kg|g|L)\b"
)


def scale_of(unit: str, system: str) -> Scale:
    """Return how values stored in a unit are read and typed in a system.

    Parameters
    ----------
    unit : one of the stored units; a unit without a US twin stays as it is.
    system : "metric" or "us".

    Returns
    -------
    the scale

    Raises
    ------
    ValueError
        When the system is unknown.

    References
    ----------
    NIST: Guide for the Use of the International System of Units, Special
    Publication 811 (2008), appendix B. [from memory]
    """
    if system not in ("metric", "us"):
        raise ValueError(f"system is {system!r}; allowed is 'metric' or 'us'.")
    as_it_is = Scale(unit)
    return US_UNITS.get(unit, as_it_is) if system == "us" else as_it_is


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
    As `scale_of`.
    """
    figure = arguments.number("value", value, unit)
    scale = scale_of(unit, system)
    return scale.shown(figure) - (scale.zero if difference else 0.0), scale.unit


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
    As `scale_of`.
    """
    figure = arguments.number("value", value, unit)
    scale = scale_of(unit, system)
    return scale.stored(figure + (scale.zero if difference else 0.0))


def in_text(text: str, system: str) -> str:
    """Write the measures inside a sentence as an orchard of that system reads them.

    Parameters
    ----------
    text : with figures such as "60 cm", "2 to 4 mm" or "-2 °C".
    system : "metric" or "us".

    Returns
    -------
    the text; in the US system with temperatures to the degree (or the tenth where
    tenths were given) and all else to two figures, as a guide's rounded measures are

    Raises
    ------
    ValueError
        When the system is unknown.

    References
    ----------
    As `scale_of`.
    """
    if scale_of("m", system).unit == "m":
        return text

    def rewritten(found: re.Match[str]) -> str:
        first, between, last, unit = found.groups()
        scale = US_UNITS[unit]
        figures = _rounded(first, unit, scale)
        if last is not None:
            figures += between + _rounded(last, unit, scale)
        return f"{figures} {scale.unit}"

    return _IN_TEXT.sub(rewritten, text)


def _rounded(figure: str, unit: str, scale: Scale) -> str:
    value = scale.shown(float(figure))
    if unit == "°C":
        return f"{value:.{1 if '.' in figure else 0}f}"
    return f"{value:.0f}" if abs(value) >= 10 else f"{round(value, 2):.2g}"
