"""Reading a day from a cell. Nothing is guessed silently."""

from __future__ import annotations

import re
from datetime import date

from django.utils.translation import gettext as _

from orchard.services.errors import Refused

MONTHS = (
    "jan", "feb", "mar", "apr", "may", "jun",
    "jul", "aug", "sep", "oct", "nov", "dec",
)  # fmt: skip
SEASONS = ("spring", "summer", "autumn", "fall", "winter")


def day_in(text: str, *, day_first: bool | None) -> date:
    """Return the day that a cell names.

    Raises:
        Refused (two_ways): 03/04/2021 while nobody has said which number is the day.
        Refused (bad_cell): no day, a year alone, a year of two digits, 31 February.
    """
    if re.fullmatch(r"\d{4}", text):
        raise Refused(
            _("“%(text)s” is only a year. Write a whole date, or leave it empty.")
            % {"text": text},
            code="bad_cell",
        )
    whole = re.fullmatch(
        r"(\d{4})[-/](\d{1,2})[-/](\d{1,2})(?:[T ]\d{2}:\d{2}(?::\d{2})?)?", text
    )
    if whole:
        return _day(text, int(whole[1]), int(whole[2]), int(whole[3]))
    named = _with_month_name(text)
    if named:
        return _day(text, *named)
    numbers = re.fullmatch(r"(\d{1,2})[/.\-](\d{1,2})[/.\-](\d{2}|\d{4})", text)
    if numbers is None:
        raise Refused(
            _("“%(text)s” isn't a date. Write it as 2021-04-30.") % {"text": text},
            code="bad_cell",
        )
    first, second = int(numbers[1]), int(numbers[2])
    if len(numbers[3]) == 2:
        raise Refused(
            _("“%(text)s” has a year of two digits. Write all four.") % {"text": text},
            code="bad_cell",
        )
    if first != second and first <= 12 and second <= 12 and day_first is None:
        raise Refused(
            _("“%(text)s” can be read in two ways. Say above which number is the day.")
            % {"text": text},
            code="two_ways",
        )
    by_day = first > 12 or (second <= 12 and day_first is not False)
    if day_first is not None and first != second and by_day is not day_first:
        raise Refused(
            _("“%(text)s” can't be read as %(order)s. Check the date.")
            % {
                "text": text,
                "order": _("day first") if day_first else _("month first"),
            },
            code="bad_cell",
        )
    day, month = (first, second) if by_day else (second, first)
    return _day(text, int(numbers[3]), month, day)


def year_in(text: str) -> int | None:
    """Return the year, where a cell tells it alone, or with a month or a season."""
    plain = text.casefold().strip()
    found = (
        re.fullmatch(r"(?:(?:about|around|ca?\.?|~)\s*)?(\d{4})\??", plain)
        or re.fullmatch(r"(\d{4})[-/](?:0?[1-9]|1[0-2])", plain)
        or re.fullmatch(r"(?:0?[1-9]|1[0-2])[-/.](\d{4})", plain)
        or re.fullmatch(
            rf"(?:(?:early|mid|late)[ -])?(?:{'|'.join((*SEASONS, *MONTHS))})"
            r"[a-z]*[ .,]+(\d{4})",
            plain,
        )
    )
    return int(found[1]) if found else None


def day_order(text: str) -> bool | None:
    """Return whether a day like 30/04/2021 is day first; None where both may be."""
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
        raise Refused(
            _("“%(text)s” isn't a day of the calendar.") % {"text": text},
            code="bad_cell",
        ) from None
