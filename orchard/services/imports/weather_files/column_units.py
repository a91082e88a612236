"""Units of weather files: what a heading says, what the values say, or a question."""

from __future__ import annotations

import re
import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from orchard.science.figures import figure, limits
from orchard.science.units import US_UNITS
from orchard.science.weather import wind_at_2m


class How(StrEnum):
    """How a unit came to be known."""

    HEADING = "heading"
    VALUES = "values"
    CHOSEN = "chosen"
    ASKED = "asked"
    ONLY = "only"


@dataclass(frozen=True, slots=True)
class Guess:
    """The unit taken for a column; empty while the person has to say."""

    unit: str
    how: How


def _as_is(value: float) -> float:
    return value


def _times(factor: float) -> Callable[[float], float]:
    return lambda value: value * factor


# Exact by definition: the sea mile is 1852 m. Source: NIST Special Publication 811,
# appendix B (from memory).
TEMPERATURE: dict[str, Callable[[float], float]] = {
    "°C": _as_is,
    "°F": US_UNITS["°C"].stored,
    "K": lambda value: value - 273.15,
    "0.1 °C": _times(0.1),
}
RAIN: dict[str, Callable[[float], float]] = {
    "mm": _as_is,
    "in": US_UNITS["mm"].stored,
    "cm": _times(10),
    "0.1 mm": _times(0.1),
}
SPEED: dict[str, Callable[[float], float]] = {
    "m/s": _as_is,
    "km/h": _times(1 / 3.6),
    "mph": US_UNITS["m/s"].stored,
    "kn": _times(1852 / 3600),
    "0.1 m/s": _times(0.1),
}
SHARE: dict[str, Callable[[float], float]] = {"%": _as_is, "0 to 1": _times(100)}
CLOUD: dict[str, Callable[[float], float]] = {**SHARE, "eighths": _times(12.5)}
HOURS: dict[str, Callable[[float], float]] = {"h": _as_is, "min": _times(1 / 60)}
SUNLIGHT: dict[str, Callable[[float], float]] = {
    "MJ/m²": _as_is,
    "kWh/m²": _times(3.6),
    "W/m²": _times(0.0864),
}

# How a unit may be written in a heading; the longest that fits is taken.
WRITTEN = {
    "°C": ("°c", "deg c", "degc", "celsius", "c"),
    "°F": ("°f", "deg f", "degf", "fahrenheit", "f"),
    "K": ("kelvin", "k"),
    "0.1 °C": ("0.1 °c", "0.1°c", "tenths of °c", "tenths of degrees c"),
    "mm": ("mm", "millimetres", "millimeters"),
    "in": ("in", "inch", "inches"),
    "cm": ("cm",),
    "0.1 mm": ("0.1 mm", "0.1mm", "tenths of mm"),
    "m/s": ("m/s", "ms-1", "m s-1", "mps"),
    "km/h": ("km/h", "kmh", "kph", "km h-1"),
    "mph": ("mph", "mi/h"),
    "kn": ("kn", "kt", "kts", "knots"),
    "0.1 m/s": ("0.1 m/s", "tenths of m/s"),
    "%": ("%", "percent", "pct"),
    "0 to 1": ("0-1", "0 to 1", "fraction"),
    "eighths": ("okta", "oktas", "eighths"),
    "h": ("h", "hours", "hrs", "hr"),
    "min": ("min", "minutes", "mins"),
    "MJ/m²": ("mj/m²", "mj/m2", "mj m-2", "mj"),
    "kWh/m²": ("kwh/m²", "kwh/m2", "kwh"),
    "W/m²": ("w/m²", "w/m2", "w m-2", "watt/m²"),
}


def unit_in(heading: str, units: Sequence[str]) -> str:
    """Return the unit that a heading names, in brackets or at its end; else nothing."""
    plain = heading.casefold().strip()
    bracketed = re.findall(r"[\(\[]([^\)\]]+)[\)\]]", plain)
    tail = re.split(r"[\s_,;]+", plain)[-1:]
    last_two = " ".join(re.split(r"[\s_,;]+", plain)[-2:])
    written = [*(part.strip() for part in bracketed), last_two, *tail]
    for part in written:
        for unit in units:
            if part in WRITTEN[unit] and part != plain:
                return unit
    return ""


def guess(
    heading: str,
    values: Sequence[float],
    units: Sequence[str],
    by_values: Callable[[Sequence[float]], str],
) -> Guess:
    """Return the unit of a column by its heading, else by its values, else ask.

    A heading is not believed against values that cannot be.
    """
    if len(units) == 1:
        return Guess(units[0], How.ONLY)
    written = unit_in(heading, units)
    if written and _contradicted(written, values, by_values):
        return Guess("", How.ASKED)
    if written:
        return Guess(written, How.HEADING)
    likely = by_values(values)
    return Guess(likely, How.VALUES) if likely else Guess("", How.ASKED)


def _contradicted(
    written: str, values: Sequence[float], by_values: Callable[[Sequence[float]], str]
) -> bool:
    """Tell whether most values are against a heading; one slip of the pen is not."""
    if not values:
        return False
    middle = statistics.median_low(values)
    too_hot = written == "°C" and middle > figure("unit_no_mean_high_c").value
    return too_hot or by_values([middle]) not in ("", written)


def temperature(values: Sequence[float]) -> str:
    """Tell °C, °F or K by the values; nothing where two of them may be."""
    if not values:
        return ""
    low, high = _nearly_all(values)
    if low > figure("unit_kelvin_from").value:
        return "K" if high < figure("unit_kelvin_to").value else "0.1 °C"
    coldest, warmest = limits("unit_degrees")
    if high > warmest or low < coldest:
        return "0.1 °C"
    if high > figure("unit_warmest_c").value:
        return "°F"
    # A year of an orchard has days above 10 °C: in °F they pass the figure.
    is_year = len(values) >= figure("unit_year_rows").value
    return "°C" if is_year and high < figure("unit_year_f").value else ""


def _nearly_all(values: Sequence[float]) -> tuple[float, float]:
    """Return the ends between which nearly all values lie, slips of the pen aside."""
    ordered = sorted(values)
    aside = len(ordered) // 50
    return ordered[aside], ordered[-1 - aside]


def rain(values: Sequence[float]) -> str:
    """Tell mm by the values; nothing where inches may be meant."""
    most_inches, most_mm = limits("unit_rain")
    return "mm" if values and most_inches < max(values) <= most_mm else ""


def nothing(_values: Sequence[float]) -> str:
    """Tell nothing: such values look alike in every unit."""
    return ""


def share(values: Sequence[float]) -> str:
    """Tell per cent from shares of one."""
    if not values:
        return ""
    return "%" if max(values) > 1 else ""


def cloud(values: Sequence[float]) -> str:
    """Tell per cent from shares of one and eighths of the sky."""
    return "%" if values and max(values) > 9 else ""


def hours(values: Sequence[float]) -> str:
    """Tell hours from minutes of sunshine."""
    if not values:
        return ""
    if max(values) > 24:
        return "min"
    return "h" if len(values) >= figure("unit_sun_rows").value else ""


def sunlight(values: Sequence[float]) -> str:
    """Tell MJ from watts and kilowatt-hours."""
    if not values:
        return ""
    most_kwh, most_mj = limits("unit_sunlight")
    most = max(values)
    return "W/m²" if most > most_mj else "MJ/m²" if most > most_kwh else ""


def from_ten_metres(speed: float) -> float:
    """Return wind at 2 m from wind at 10 m: FAO-56, equation 47."""
    return wind_at_2m(speed, 10.0)
