"""Rows that are left out of a file: totals and means, and what a person says."""

from __future__ import annotations

import re
from dataclasses import replace

from orchard.services.imports.sheets.headings import Line, Sheet
from orchard.services.imports.sheets.rows import ChoicesT, SheetChoices

# What begins a row that sums up others. Source: common practice.
SUMMARY = re.compile(
    r"(?:grand |sub-?)?"
    r"(?:totals?|sums?|means?|averages?|avg|medians?|max|maximum|min|minimum|highest|"
    r"lowest|extremes?|counts?|normals?)"
    r"(?:[:.]|[ :].{1,24})?"
)


def divided(sheet: Sheet, choices: SheetChoices) -> tuple[Sheet, tuple[Line, ...]]:
    """Return the sheet without the rows that are left out, and those rows.

    Where nobody has chosen, rows that sum up the others are left out.
    """
    chosen = choices.left_out
    if chosen is None:
        chosen = frozenset(number for number, cells in sheet.rows if sums_up(cells))
    kept = tuple(line for line in sheet.rows if line[0] not in chosen)
    aside = tuple(line for line in sheet.rows if line[0] in chosen)
    return replace(sheet, rows=kept), aside


def sums_up(cells: tuple[str, ...]) -> bool:
    """Tell whether a row is a total or mean of others by how it begins."""
    first = next((cell for cell in cells if cell), "")
    return SUMMARY.fullmatch(first.casefold()) is not None


def carried_over(choices: ChoicesT, old: Sheet, new: Sheet) -> ChoicesT:
    """Return what was chosen for a file for another version of it.

    What the columns are taken for holds while the headings are the same; a row that is
    left out, or taken in though it looks like a total, is known by what stands in it.
    """
    left_out = choices.left_out
    if left_out is not None:
        aside = {cells for number, cells in old.rows if number in left_out}
        kept = {cells for _number, cells in old.rows} - aside
        left_out = frozenset(
            number
            for number, cells in new.rows
            if cells in aside or (sums_up(cells) and cells not in kept)
        )
    mapping = choices.mapping if old.headings == new.headings else None
    return replace(choices, left_out=left_out, mapping=mapping)
