"""Looking through a register: what would happen to each row of it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from orchard.records.models import Orchard
from orchard.services.imports import Sheet, order_told_by
from orchard.services.imports.register import columns
from orchard.services.imports.register.columns import Column
from orchard.services.imports.register.existing import book_of
from orchard.services.imports.register.fates import Reader
from orchard.services.imports.register.shapes import Choices, NewPlaces, Preview


def preview(
    orchard: Orchard, sheet: Sheet, *, today: date, choices: Choices | None = None
) -> Preview:
    """Say for every row what would happen, and write nothing."""
    choices = choices or Choices()
    mapping = choices.mapping or columns.columns_for(sheet.heads)
    shown = tuple(
        Column(number, head, _example(sheet, number), field)
        for number, (head, field) in enumerate(zip(sheet.heads, mapping, strict=True))
    )
    problems = tuple(columns.problems_with(mapping))
    if problems:
        return Preview(shown, (), problems, sheet.notes, 0, 0, 0, (), (), ())
    reader = Reader(book_of(orchard), mapping, choices, today)
    rows = tuple(reader.fate_of(number, cells) for number, cells in sheet.rows)
    days = _days(sheet, mapping)
    return Preview(
        columns=shown,
        rows=rows,
        problems=(),
        notes=sheet.notes,
        two_ways=reader.two_ways,
        only_day_first=sum(order_told_by(day) is True for day in days),
        only_month_first=sum(order_told_by(day) is False for day in days),
        new_blocks=_places(reader.new_blocks, choices.new_blocks),
        new_spots=_places(reader.new_spots, choices.new_spots),
        new_kinds=reader.kinds_offered(),
    )


def _example(sheet: Sheet, number: int) -> str:
    return next((cells[number] for _n, cells in sheet.rows if cells[number]), "")


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
