"""Which row of a file holds its headings, and the sheet that follows from it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from orchard.services.errors import Refused

# Titles, stations and notes above a table take fewer rows than this.
ROWS_LOOKED_AT = 30
MOST_COLUMNS = 60
MOST_LETTERS = 2000
# A row by its number in the file.
Line = tuple[int, tuple[str, ...]]
# How many headings of an import a row names.
Recognise = Callable[[Sequence[str]], int]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The headings of a file, the rows below and above them, all text."""

    name: str
    headings: tuple[str, ...]
    rows: tuple[Line, ...]
    notes: tuple[str, ...] = ()
    above: tuple[Line, ...] = ()
    heading_row: int = 1

    def example(self, number: int) -> str:
        """Return the first cell of a column that holds something."""
        return next((cells[number] for _row, cells in self.rows if cells[number]), "")

    @property
    def lines(self) -> tuple[Line, ...]:
        """Give every row of the file that holds something."""
        return (*self.above, (self.heading_row, self.headings), *self.rows)

    def packed(self) -> list[Any]:
        """Return the sheet as plain lists, to be signed and sent round by a form."""
        lines = [[number, *cells] for number, cells in self.lines]
        return [self.name, lines, self.heading_row, list(self.notes)]

    @classmethod
    def unpacked(cls, plain: list[Any]) -> Sheet:
        """Return the sheet that `packed` made plain."""
        name, rows, heading_row, notes = plain
        lines = [(row[0], tuple(row[1:])) for row in rows]
        return sheet_headed(name, lines, heading_row, notes)


def sheet_headed(
    name: str, lines: Sequence[Line], heading_row: int, notes: Sequence[str]
) -> Sheet:
    """Return the sheet whose headings stand in a row of the file.

    Raises:
        Refused (not_readable): too many columns, a cell too long, nothing below.
    """
    headings = _trimmed(dict(lines)[heading_row])
    if len(headings) > MOST_COLUMNS:
        raise Refused(
            _("The file has more than 60 columns. Delete those you don't need."),
            code="not_readable",
            field="file",
        )
    rows = []
    for number, cells in lines:
        if any(len(cell) > MOST_LETTERS for cell in cells):
            raise Refused(
                _("Row %(number)d holds a cell with more than 2,000 letters.")
                % {"number": number},
                code="not_readable",
                field="file",
            )
        if number > heading_row:
            cells = _trimmed(cells, least=len(headings))
            rows.append((number, cells + ("",) * (len(headings) - len(cells))))
    if not rows:
        raise Refused(
            _("The file has headings but nothing below them."),
            code="not_readable",
            field="file",
        )
    above = tuple((number, cells) for number, cells in lines if number < heading_row)
    return Sheet(name, headings, tuple(rows), tuple(notes), above, heading_row)


def with_headings_in(sheet: Sheet, heading_row: int) -> Sheet:
    """Return the same file with its headings in another row.

    Raises:
        Refused (not_readable): there is no such row, or nothing stands below it.
    """
    if heading_row not in dict(sheet.lines):
        raise Refused(
            _("The file has no row %(number)d to take the headings from.")
            % {"number": heading_row},
            code="not_readable",
        )
    return sheet_headed(sheet.name, sheet.lines, heading_row, sheet.notes)


def heading_row_of(lines: Sequence[Line], recognise: Recognise) -> int:
    """Return the number of the row that most likely holds the headings.

    The row that names most of what the import knows; where none names two, the first
    with more than one cell, for a title has only one.
    """
    first_lines = lines[:ROWS_LOOKED_AT]
    likeliest = max(first_lines, key=lambda line: recognise(line[1]))
    if recognise(likeliest[1]) >= 2:
        return likeliest[0]
    wide = (number for number, cells in first_lines if sum(map(bool, cells)) > 1)
    return next(wide, lines[0][0])


def _trimmed(cells: Sequence[str], least: int = 0) -> tuple[str, ...]:
    trimmed = list(cells)
    while len(trimmed) > least and not trimmed[-1]:
        trimmed.pop()
    return tuple(trimmed)
