"""Looking through a register: what would happen to each row of it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from orchard.records.models import Orchard
from orchard.services.imports.register import columns
from orchard.services.imports.register.existing import book_of
from orchard.services.imports.register.fates import RegisterReader
from orchard.services.imports.register.shapes import (
    NewPlaces,
    RegisterChoices,
    RegisterPreview,
)
from orchard.services.imports.sheets import Sheet, columns_of, day_order, divided


def preview(
    orchard: Orchard,
    sheet: Sheet,
    *,
    today: date,
    choices: RegisterChoices | None = None,
) -> RegisterPreview:
    """Say for every row what would happen, and write nothing."""
    choices = choices or RegisterChoices()
    sheet, left_out = divided(sheet, choices)
    mapping = choices.mapping or columns.mapping_of(sheet.headings)
    shown = columns_of(sheet, mapping)
    problems = tuple(columns.problems_with(mapping))
    if problems:
        return RegisterPreview(
            columns=shown, problems=problems, notes=sheet.notes, left_out=left_out
        )
    reader = RegisterReader(book_of(orchard), mapping, choices, today, orchard.units)
    rows = tuple(reader.result_of(number, cells) for number, cells in sheet.rows)
    days = _days(sheet, mapping)
    return RegisterPreview(
        columns=shown,
        rows=rows,
        notes=sheet.notes,
        left_out=left_out,
        two_ways=reader.two_ways,
        only_day_first=sum(day_order(day) is True for day in days),
        only_month_first=sum(day_order(day) is False for day in days),
        new_blocks=_places(reader.new_blocks, choices.new_blocks),
        new_spots=_places(reader.new_spots, choices.new_spots),
        new_kinds=reader.kinds_offered(),
    )


def _days(sheet: Sheet, mapping: Iterable[str]) -> list[str]:
    wanted = [n for n, field in enumerate(mapping) if field.endswith("_on")]
    return [cells[n] for _n, cells in sheet.rows for n in wanted if n < len(cells)]


def _places(
    found: dict[str, dict[str, None]], ticked: frozenset[str]
) -> tuple[NewPlaces, ...]:
    return tuple(
        NewPlaces(block, tuple(spots), block.lower() in ticked)
        for block, spots in found.items()
    )
