"""The day and the time of a row: in one cell, or in columns for each part of it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _

from orchard.services.errors import Refused
from orchard.services.imports.sheets import MONTHS, Line, cells_by_field, day_in
from orchard.services.imports.weather_files.columns import (
    DAY_OF_MONTH,
    DAY_OF_YEAR,
    MONTH,
    ON,
    TIME,
    YEAR,
)

DAY_MINUTES = 24 * 60
_CLOCK = r"(\d{1,2})(?::(\d{2})(?::\d{2}(?:\.\d+)?)?)?\s*([ap]m)?"
_WITH_CLOCK = re.compile(
    r"(.*\d)[T ,]+(\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:\s*[AaPp][Mm])?)"
    r"\s*(Z|UTC|GMT|[+-]\d{2}:?\d{2})?"
)
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})")


@dataclass(frozen=True, slots=True)
class Moment:
    """The day of a row, and the minute of that day where a time is given."""

    on: date
    minute: int | None = None


def moment_in(texts: Mapping[str, str], *, day_first: bool | None) -> Moment:
    """Return when a row was measured, by its cells.

    Raises:
        Refused (two_ways, bad_cell): as for `day_in`; a part is missing, no time of
            day, or a time that is not the orchard's.
    """
    text, clock = _parts_of(texts)
    if _COMPACT.fullmatch(text):
        text = _COMPACT.sub(r"\1-\2-\3", text)
    on = day_in(text, day_first=day_first) if ON in texts else _composed(texts)
    return Moment(on, minute_in(clock) if clock else None)


def day_text(texts: Mapping[str, str]) -> str:
    """Return what a row says of its day, as written."""
    if ON in texts:
        found = _WITH_CLOCK.fullmatch(texts[ON])
        return found[1] if found else texts[ON]
    parts = (YEAR, MONTH, DAY_OF_MONTH, DAY_OF_YEAR)
    return "-".join(texts[part] for part in parts if texts.get(part))


def _parts_of(texts: Mapping[str, str]) -> tuple[str, str]:
    """Return the day and the time that stand in the cells of a row."""
    text, clock = texts.get(ON, ""), texts.get(TIME, "")
    if ON in texts and not text:
        raise Refused(_("The day is missing."), code="bad_cell")
    found = _WITH_CLOCK.fullmatch(text)
    if found is None:
        return text, clock
    if found[3]:
        raise Refused(
            _(
                "“%(text)s” is a time of another zone. Give the times of the orchard's "
                "own clock, for a day begins there at midnight."
            )
            % {"text": text},
            code="bad_cell",
        )
    return found[1], clock or found[2]


def minute_in(text: str) -> int:
    """Return the minute of the day that a time names: 13:00, 1 PM, 1300 or 13.

    Raises:
        Refused (bad_cell): it is no time of a day.
    """
    word = text.casefold().strip()
    if re.fullmatch(r"\d{3,4}", word):
        word = f"{word[:-2]}:{word[-2:]}"
    found = re.fullmatch(_CLOCK, word)
    if found:
        hour, minute, half = int(found[1]), int(found[2] or 0), found[3]
        if half and 1 <= hour <= 12:
            hour = hour % 12 + (12 if half == "pm" else 0)
        elif half:
            hour = DAY_MINUTES
        if minute < 60 and hour * 60 + minute <= DAY_MINUTES:
            return hour * 60 + minute
    raise Refused(
        _("“%(text)s” isn't a time. Write it as 13:00.") % {"text": text},
        code="bad_cell",
    )


def _composed(texts: Mapping[str, str]) -> date:
    """Return the day whose parts stand in columns of their own."""
    year = _whole(texts.get(YEAR, ""))
    if year is None or year < 1000:
        raise Refused(
            _("“%(text)s” isn't a year of four digits.")
            % {"text": texts.get(YEAR, "")},
            code="bad_cell",
        )
    try:
        if DAY_OF_YEAR in texts:
            on = date(year, 1, 1) + timedelta(int(texts[DAY_OF_YEAR]) - 1)
            if on.year != year:
                raise ValueError
            return on
        return date(year, _month(texts[MONTH]), int(texts[DAY_OF_MONTH]))
    except ValueError:
        raise Refused(
            _("“%(text)s” isn't a day of the calendar.") % {"text": day_text(texts)},
            code="bad_cell",
        ) from None


def _month(text: str) -> int:
    short = text.casefold()[:3]
    return MONTHS.index(short) + 1 if short in MONTHS else int(text)


def _whole(text: str) -> int | None:
    return int(text) if re.fullmatch(r"\d{1,6}", text) else None


def is_several_a_day(
    rows: Iterable[Line], mapping: Sequence[str], *, over: float
) -> bool:
    """Tell whether days have more rows than `over`, on average."""
    days = [day for day, _timed in _days_of(rows, mapping)]
    return len(days) >= 3 and len(days) > over * len(set(days))


def is_timed(rows: Iterable[Line], mapping: Sequence[str]) -> bool:
    """Tell whether rows say at which time of their day they were measured."""
    return any(timed for _day, timed in _days_of(rows, mapping))


def _days_of(
    rows: Iterable[Line], mapping: Sequence[str]
) -> Iterable[tuple[str, bool]]:
    for _number, cells in rows:
        try:
            texts = cells_by_field(mapping, cells)
        except Refused:
            continue
        with_clock = _WITH_CLOCK.fullmatch(texts.get(ON, "")) is not None
        yield day_text(texts), with_clock or bool(texts.get(TIME))
