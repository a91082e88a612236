"""Reading one cell: a day, litres, yes or no. Nothing is guessed silently."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from orchard.services.refusal import Refused

# One US gallon is 231 cubic inches, one inch 2.54 cm exactly. Source: NIST Special
# Publication 811, appendix B (from memory).
LITRES_PER_US_GALLON = Decimal("3.785411784")
UNITS = {
    "l": Decimal(1),
    "litre": Decimal(1),
    "litres": Decimal(1),
    "liter": Decimal(1),
    "liters": Decimal(1),
    "gal": LITRES_PER_US_GALLON,
    "gallon": LITRES_PER_US_GALLON,
    "gallons": LITRES_PER_US_GALLON,
}
MONTHS = (
    "jan", "feb", "mar", "apr", "may", "jun",
    "jul", "aug", "sep", "oct", "nov", "dec",
)  # fmt: skip
YES = frozenset({"yes", "y", "true", "1", "x"})
NO = frozenset({"no", "n", "false", "0"})
GROUND = frozenset({"ground", "in the ground", "in ground", "no", "none", "-"})
POTTED = frozenset({"container", "pot", "in a container", "yes", "tub", "planter"})


class CellRefused(Refused):
    """A cell cannot be read, or can be read in more than one way."""


class TwoWays(CellRefused):
    """A day that can be read day first and month first."""


@dataclass(frozen=True, slots=True)
class Container:
    """Whether a tree stands in a container, and how many litres it holds."""

    potted: bool
    litres: Decimal | None = None
    note: str = ""


def day_in(text: str, *, day_first: bool | None) -> date:
    """Return the day that a cell names.

    Raises:
        TwoWays: 03/04/2021 while nobody has said which number is the day.
        CellRefused: no day, a year alone, a year of two digits, 31 February.
    """
    if re.fullmatch(r"\d{4}", text):
        raise CellRefused(
            _("“%(text)s” is only a year. Write a whole date, or leave it empty.")
            % {"text": text}
        )
    whole = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]00:00(?::00)?)?", text)
    if whole:
        return _day(text, int(whole[1]), int(whole[2]), int(whole[3]))
    named = _with_month_name(text)
    if named:
        return _day(text, *named)
    numbers = re.fullmatch(r"(\d{1,2})[/.\-](\d{1,2})[/.\-](\d{2}|\d{4})", text)
    if numbers is None:
        raise CellRefused(
            _("“%(text)s” is no date. Write it as 2021-04-30.") % {"text": text}
        )
    first, second = int(numbers[1]), int(numbers[2])
    if len(numbers[3]) == 2:
        raise CellRefused(
            _("“%(text)s” has a year of two digits. Write all four.") % {"text": text}
        )
    if first != second and first <= 12 and second <= 12 and day_first is None:
        raise TwoWays(
            _("“%(text)s” can be read in two ways. Say above which number is the day.")
            % {"text": text}
        )
    by_day = first > 12 or (second <= 12 and day_first is not False)
    if day_first is not None and first != second and by_day is not day_first:
        raise CellRefused(
            _("“%(text)s” cannot be read %(order)s, as you said. Check the date.")
            % {
                "text": text,
                "order": _("day first") if day_first else _("month first"),
            }
        )
    day, month = (first, second) if by_day else (second, first)
    return _day(text, int(numbers[3]), month, day)


def order_told_by(text: str) -> bool | None:
    """Say whether a day like 30/04/2021 is day first; None when it does not tell."""
    numbers = re.fullmatch(r"(\d{1,2})[/.\-](\d{1,2})[/.\-]\d{4}", text)
    if numbers is None:
        return None
    first, second = int(numbers[1]), int(numbers[2])
    if (first > 12) is (second > 12):
        return None
    return first > 12


def _with_month_name(text: str) -> tuple[int, int, int] | None:
    found = re.fullmatch(r"(\d{1,2})[ .\-]+([A-Za-z]{3,9})[ .,\-]+(\d{4})", text)
    if found:
        day, month, year = found[1], found[2], found[3]
    else:
        found = re.fullmatch(r"([A-Za-z]{3,9})[ .]+(\d{1,2})[ ,]+(\d{4})", text)
        if not found:
            return None
        month, day, year = found[1], found[2], found[3]
    short = month[:3].casefold()
    if short not in MONTHS:
        return None
    return int(year), MONTHS.index(short) + 1, int(day)


def _day(text: str, year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise CellRefused(
            _("There is no such day as “%(text)s”.") % {"text": text}
        ) from None


def container_in(text: str) -> Container:
    """Return what a cell says of a container; a bare number is litres."""
    word = text.casefold()
    if not word:
        return Container(False)
    if word in GROUND:
        return Container(False)
    if word in POTTED:
        return Container(True, None, _("In a container; how many litres is not said."))
    found = re.fullmatch(r"([\d.,]+)\s*([a-z]*)\.?", word)
    if found is None or (found[2] and found[2] not in UNITS):
        raise CellRefused(
            _(
                "“%(text)s” is no size of a container. Write litres or US gallons, "
                "such as 50 L or 15 gal."
            )
            % {"text": text}
        )
    number = _number(text, found[1])
    litres = (number * UNITS[found[2] or "l"]).quantize(Decimal("0.1"))
    if not 0 < litres <= 20_000:
        raise CellRefused(_("A container holds more than 0 and at most 20,000 litres."))
    note = ""
    if found[2].startswith("gal"):
        note = _("%(text)s (US) are kept as %(litres)s L.") % {
            "text": text,
            "litres": litres,
        }
    return Container(True, litres, note)


def _number(text: str, digits: str) -> Decimal:
    if re.fullmatch(r"\d+", digits):
        return Decimal(digits)
    if re.fullmatch(r"\d+[.,]\d{1,2}", digits):
        return Decimal(digits.replace(",", "."))
    raise CellRefused(
        _("“%(text)s” can be read in two ways. Write 1500 or 1.5, with no other mark.")
        % {"text": text}
    )


def yes_in(text: str) -> bool:
    """Return whether a cell says yes; an empty one says no."""
    word = text.casefold()
    if word in YES:
        return True
    if word in NO or not word:
        return False
    raise CellRefused(_("“%(text)s” is neither yes nor no.") % {"text": text})
