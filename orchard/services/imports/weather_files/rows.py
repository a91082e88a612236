"""One row of a weather file read into a day to be, with all that is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from django.utils.translation import gettext as _

from orchard.science.units import scale_of
from orchard.services.errors import Refused
from orchard.services.imports.weather_files import column_units
from orchard.services.imports.weather_files.cells import Cell, number_in
from orchard.services.imports.weather_files.columns import MeasuredField
from orchard.services.imports.weather_files.shapes import DayPlan

# Three decimals keep a tenth of a degree Fahrenheit apart, and a file its own.
DECIMALS = 3
ORDERED = (("tmin", "tmax"), ("tmin", "tmean"), ("tmean", "tmax"), ("rh_min", "rh_max"))
MISSING, IMPOSSIBLE, AT_ODDS, TRACE = "missing", "impossible", "at_odds", "trace"
# Of a day that was worked up from hours.
TOO_FEW = "too_few"


def plan_of(
    on: date,
    cells: Mapping[str, str],
    fields: Mapping[str, MeasuredField],
    units: Mapping[str, str],
    *,
    as_gaps: bool,
    system: str,
) -> tuple[DayPlan, list[Refused]]:
    """Read the numbers of a row; return the day to be and everything wrong with it.

    What is wrong is told in the units of the orchard, its `system`. With `as_gaps` a
    value that cannot be is left out and marked, not refused.
    """
    values: dict[str, float | None] = {}
    written: dict[str, str] = {}
    flags: dict[str, str] = {}
    problems: list[Refused] = []
    for code, text in cells.items():
        field = fields[code]
        name = field.column or code
        written[name] = text
        try:
            cell = number_in(text)
        except Refused as refusal:
            problems.append(
                Refused(f"{field.label_in(system)}: {refusal}", code="bad_cell")
            )
            continue
        values[name], flag = _stored(cell, field, units[code])
        if flag == IMPOSSIBLE and not as_gaps:
            problems.append(_impossible(cell, field, units[code], system))
        if flag:
            flags[name] = flag
    problems += _out_of_order(values, flags, fields, as_gaps=as_gaps, system=system)
    return DayPlan(on, values, written, flags), problems


def _stored(cell: Cell, field: MeasuredField, unit: str) -> tuple[float | None, str]:
    """Return a number in the unit it is stored in, or why there is none."""
    if cell.number is None:
        return None, MISSING
    value = field.units[unit](cell.number)
    if field.after is not None and value >= 0:
        value = field.after(value)
    value = round(value, DECIMALS)
    if not field.low <= value <= field.high:
        return None, IMPOSSIBLE
    return value, TRACE if cell.trace else ""


# From here on a number is not written out, nor converted: it may have no end.
UNCOUNTABLE = 1e15


def _impossible(cell: Cell, field: MeasuredField, unit: str, system: str) -> Refused:
    number = cell.number or 0.0
    value = field.units[unit](number)
    is_countable = abs(value) < UNCOUNTABLE
    details = {
        "name": field.label_in(system),
        "written": cell.written[:40],
        "value": field.written_in(value, system) if is_countable else "",
        "range": field.range_in(system),
    }
    if not is_countable:
        message = _("%(name)s: “%(written)s” can't be right. Possible: %(range)s.")
    elif scale_of(field.stored, system).unit == unit:
        message = _("%(name)s: %(value)s can't be right. Possible: %(range)s.")
    else:
        message = _(
            "%(name)s: “%(written)s” is %(value)s, which can't be right. Possible: "
            "%(range)s."
        )
    if field.units is column_units.TEMPERATURE and number > field.high:
        message += " " + _("Is the unit of the column right?")
    return Refused(message % details, code="impossible")


def _out_of_order(
    values: dict[str, float | None],
    flags: dict[str, str],
    fields: Mapping[str, MeasuredField],
    *,
    as_gaps: bool,
    system: str,
) -> list[Refused]:
    """Refuse a minimum above its maximum, or leave both out and mark them."""
    problems: list[Refused] = []
    for low, high in ORDERED:
        smaller, larger = values.get(low), values.get(high)
        if smaller is None or larger is None or smaller <= larger:
            continue
        if as_gaps:
            values[low] = values[high] = None
            flags[low] = flags[high] = AT_ODDS
            continue
        problems.append(
            Refused(
                _("%(low)s (%(smaller)s) is above %(high)s (%(larger)s).")
                % {
                    "low": fields[low].label_in(system),
                    "smaller": fields[low].written_in(smaller, system),
                    "high": fields[high].label_in(system),
                    "larger": fields[high].written_in(larger, system),
                },
                code="impossible",
            )
        )
    return problems
