"""What is found about the rows of a sheet before it is taken in.

An import names its own fates, and the plan that a row is read into.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Generic, TypeVar

from django.utils.translation import gettext as _

from orchard.services.errors import Refused
from orchard.services.imports.sheets.columns import SheetColumn
from orchard.services.imports.sheets.faults import (
    SharedFault,
    common_part,
    shared_faults,
)
from orchard.services.imports.sheets.headings import Line

FateT = TypeVar("FateT", bound=StrEnum)
PlanT = TypeVar("PlanT")
ColumnT = TypeVar("ColumnT", bound=SheetColumn)
ChoicesT = TypeVar("ChoicesT", bound="SheetChoices")


@dataclass(frozen=True, slots=True)
class SheetChoices:
    """What the person chose for a file: what its columns hold, how its days go.

    `left_out` are the numbers of rows that are no part of it.
    """

    mapping: tuple[str, ...] | None = None
    day_first: bool | None = None
    left_out: frozenset[int] | None = None


@dataclass(frozen=True, slots=True)
class RowResult(Generic[FateT, PlanT]):
    """One row: its number in the file, its name, what happens, and why.

    A row with `reasons` is refused; `notes` are for the eye. `replaces` is the record
    that the row has other values for.
    """

    number: int
    name: str
    fate: FateT
    reasons: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    plan: PlanT | None = None
    detail: str = ""
    replaces: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPreview(Generic[FateT, PlanT, ColumnT]):
    """A whole file looked through; `problems` concern the file, not single rows."""

    columns: tuple[ColumnT, ...]
    rows: tuple[RowResult[FateT, PlanT], ...] = ()
    problems: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    two_ways: int = 0
    left_out: tuple[Line, ...] = ()

    def count(self, *fates: FateT) -> int:
        """Count the rows with any of these fates."""
        return sum(row.fate in fates for row in self.rows)

    @property
    def refused(self) -> int:
        return sum(bool(row.reasons) for row in self.rows)

    @property
    def faults(self) -> tuple[SharedFault, ...]:
        """Give what many rows share, refusals first, so that it is named once."""
        return (*self._refusals.values(), *self._remarks.values())

    @property
    def remarkable(self) -> tuple[RowResult[FateT, PlanT], ...]:
        """Give the rows with something of their own to tell, the refused first."""
        refusals, remarks = self._refusals, self._remarks
        rows = [
            row
            for row in self.rows
            if any(common_part(text) not in refusals for text in row.reasons)
            or any(common_part(text) not in remarks for text in row.notes)
        ]
        return tuple(sorted(rows, key=lambda row: not row.reasons))

    @property
    def _refusals(self) -> dict[str, SharedFault]:
        sentences = ((row.number, row.reasons) for row in self.rows)
        return shared_faults(sentences, is_refusal=True)

    @property
    def _remarks(self) -> dict[str, SharedFault]:
        sentences = ((row.number, row.notes) for row in self.rows)
        return shared_faults(sentences, is_refusal=False)

    @property
    def changed(self) -> int:
        """Count the rows that change the book."""
        raise NotImplementedError

    @property
    def can_be_taken_in(self) -> bool:
        return not self.problems and not self.refused and self.changed > 0

    @property
    def rows_left_out(self) -> frozenset[int]:
        """Give the numbers of the rows that are left out, whether chosen or found."""
        return frozenset(number for number, _cells in self.left_out)

    @property
    def mapping(self) -> tuple[str, ...]:
        """Give what the columns are taken for, whether chosen or found."""
        return tuple(column.field for column in self.columns)


def cells_by_field(mapping: Sequence[str], cells: Sequence[str]) -> dict[str, str]:
    """Return the cells of a row by what their columns are taken for.

    Raises:
        Refused (bad_row): the row has more cells than there are headings.
    """
    if len(cells) > len(mapping):
        raise Refused(
            _(
                "The row has more cells than there are headings. Perhaps a separator "
                "stands inside a cell; put that cell in quotation marks."
            ),
            code="bad_row",
        )
    return {field: cell for field, cell in zip(mapping, cells, strict=True) if field}
