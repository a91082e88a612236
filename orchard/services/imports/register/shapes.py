"""What is said about a register before it is taken in."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from orchard.services.imports.register.columns import Column
from orchard.services.imports.register.plans import Plan


class Fate(StrEnum):
    """What happens to a row."""

    NEW = "new"
    HERE = "here"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Choices:
    """What the person said about a file; nothing is added that is not ticked."""

    mapping: tuple[str, ...] | None = None
    day_first: bool | None = None
    new_blocks: frozenset[str] = frozenset()
    new_spots: frozenset[str] = frozenset()
    new_kinds: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class RowFate:
    """One row: its number in the file, its tree, what happens, and why."""

    number: int
    code: str
    tree: str
    fate: Fate
    said: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    plan: Plan | None = None


@dataclass(frozen=True, slots=True)
class NewPlaces:
    """A block that is not in the book, or new spots of one that is."""

    block: str
    spots: tuple[str, ...]
    ticked: bool


@dataclass(frozen=True, slots=True)
class NewKind:
    """A cultivar that is not in the book, and those it may have been meant for."""

    name: str
    near: tuple[str, ...]
    rows: int
    host: str
    ticked: bool


@dataclass(frozen=True, slots=True)
class Preview:
    """A whole file looked through; `problems` concern the file, not single rows."""

    columns: tuple[Column, ...]
    rows: tuple[RowFate, ...]
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    two_ways: int
    only_day_first: int
    only_month_first: int
    new_blocks: tuple[NewPlaces, ...]
    new_spots: tuple[NewPlaces, ...]
    new_kinds: tuple[NewKind, ...]

    def count(self, fate: Fate) -> int:
        return sum(row.fate == fate for row in self.rows)

    @property
    def new(self) -> int:
        return self.count(Fate.NEW)

    @property
    def here(self) -> int:
        return self.count(Fate.HERE)

    @property
    def refused(self) -> int:
        return self.count(Fate.REFUSED)

    @property
    def can_be_taken_in(self) -> bool:
        return not self.problems and not self.refused and self.new > 0
