"""What is wrong with the guide, and where."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: its file, line, row and field, and what is wrong and how to mend it.

    A rule list that an orchard wrote has no file and no line; a fault of a whole file
    has no row, one of a whole row no field.
    """

    problem: str
    file: str = ""
    line: int | None = None
    row: str = ""
    field: str = ""

    def __str__(self) -> str:
        line = "" if self.line is None else f"line {self.line}"
        place = (self.file, line, self.row, self.field)
        return f"{', '.join(part for part in place if part)}: {self.problem}"


class GuideError(ValueError):
    """The guide cannot be used; the sentences name every fault, one on each line."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))
