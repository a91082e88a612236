"""Reading one number of a weather file; what is missing is missing, not nought."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.utils.translation import gettext as _

from orchard.services.errors import Refused

# Written where nothing was measured. Source: common practice.
NOTHING = frozenset(
    {"", "-", "--", "na", "n/a", "nan", "null", "none", "m", "x", "///"}
)
STANDS_FOR_NOTHING = re.compile(r"[-−]9{2,6}(\.[09]+)?|9{3,6}(\.[09]+)?")
TRACE = frozenset({"t", "tr", "trace"})


@dataclass(frozen=True, slots=True)
class Cell:
    """A number as it was written; None for nothing, `trace` for rain too small."""

    number: float | None
    written: str
    trace: bool = False


def number_in(text: str) -> Cell:
    """Return the number that a cell holds, as written, in the file's own unit.

    Raises:
        Refused (bad_cell): neither a number nor a sign for nothing.
    """
    word = text.strip().casefold()
    if word in NOTHING or STANDS_FOR_NOTHING.fullmatch(word):
        return Cell(None, text)
    if word in TRACE:
        return Cell(0.0, text, trace=True)
    plain = word.replace("−", "-")
    if re.fullmatch(r"[+-]?\d+(\.\d+)?(e[+-]?\d{1,2})?", plain):
        return Cell(float(plain), text)
    if re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", plain):
        raise Refused(
            _("“%(text)s” can be read in two ways. Write 1500 or 1.5.")
            % {"text": text[:40]},
            code="bad_cell",
        )
    if re.fullmatch(r"[+-]?\d+,\d+", plain):
        return Cell(float(plain.replace(",", ".")), text)
    raise Refused(
        _("“%(text)s” isn't a number. Leave the cell empty if nothing was measured.")
        % {"text": text[:40]},
        code="bad_cell",
    )
