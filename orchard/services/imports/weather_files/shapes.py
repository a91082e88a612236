"""What is said about a weather file before it is taken in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from orchard.records.models import Intake
from orchard.services.imports.weather_files.column_units import How

Sort = Intake.Sort


class Fate(StrEnum):
    """What happens to a row."""

    NEW = "new"
    HERE = "here"
    DIFFERS = "differs"
    TWICE = "twice"
    ELSEWHERE = "elsewhere"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Choices:
    """What the person said about a file; nothing is guessed over it.

    `units` by field; `only_station` takes the rows of one station alone;
    `as_gaps` keeps what cannot be as a marked gap; `correct` puts the file's values in
    place of those on record.
    """

    mapping: tuple[str, ...] | None = None
    units: Mapping[str, str] = field(default_factory=dict)
    day_first: bool | None = None
    only_station: str = ""
    as_gaps: bool = False
    correct: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the file: what it is taken for, in which unit, and how known."""

    number: int
    heading: str
    example: str
    field: str
    unit: str = ""
    how: How | None = None
    units: tuple[str, ...] = ()

    @property
    def is_asked(self) -> bool:
        return self.how is How.ASKED


@dataclass(frozen=True, slots=True)
class Plan:
    """One day to be: its values in SI units, what was written, what is marked."""

    on: date
    values: Mapping[str, float | None]
    written: Mapping[str, str]
    flags: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class RowFate:
    """One row: its number in the file, its day, what happens, and why."""

    number: int
    day: str
    fate: Fate
    said: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    plan: Plan | None = None
    replaces: int | None = None


@dataclass(frozen=True, slots=True)
class Preview:
    """A whole file looked through; `problems` concern the file, not single rows."""

    sort: str
    columns: tuple[Column, ...]
    rows: tuple[RowFate, ...]
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    missing: tuple[tuple[date, date], ...] = ()
    stations: tuple[str, ...] = ()
    two_ways: int = 0
    impossible: int = 0

    def count(self, *fates: Fate) -> int:
        return sum(row.fate in fates for row in self.rows)

    @property
    def new(self) -> int:
        return self.count(Fate.NEW)

    @property
    def here(self) -> int:
        return self.count(Fate.HERE, Fate.TWICE)

    @property
    def corrected(self) -> int:
        return sum(row.replaces is not None and not row.said for row in self.rows)

    @property
    def differing(self) -> int:
        return sum(row.replaces is not None for row in self.rows)

    @property
    def changed(self) -> int:
        return self.new + self.corrected

    @property
    def refused(self) -> int:
        return self.count(Fate.REFUSED)

    @property
    def gaps(self) -> int:
        """Count the values that are marked as missing."""
        return sum(
            value is None
            for row in self.rows
            if row.plan is not None
            for value in row.plan.values.values()
        )

    @property
    def to_look_at(self) -> tuple[RowFate, ...]:
        """Give the rows that something is said about, the refused first."""
        telling = [row for row in self.rows if row.said or row.notes]
        return tuple(sorted(telling, key=lambda row: row.fate is not Fate.REFUSED))

    @property
    def first_days(self) -> tuple[RowFate, ...]:
        """Give a handful of days as they would be kept."""
        return tuple(row for row in self.rows if row.plan is not None)[:5]

    @property
    def can_be_taken_in(self) -> bool:
        return not self.problems and not self.refused and self.changed > 0

    @property
    def asked_units(self) -> tuple[Column, ...]:
        return tuple(column for column in self.columns if column.is_asked)
