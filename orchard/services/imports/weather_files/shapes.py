"""What is found about a weather file before it is taken in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from orchard.records.models import Intake
from orchard.services.imports.sheets import (
    RowResult,
    SheetChoices,
    SheetColumn,
    SheetPreview,
)
from orchard.services.imports.weather_files.column_units import How

Sort = Intake.Sort


class WeatherFate(StrEnum):
    """What happens to a row."""

    NEW = "new"
    HERE = "here"
    DIFFERS = "differs"
    TWICE = "twice"
    SHORT = "short"
    ELSEWHERE = "elsewhere"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class WeatherChoices(SheetChoices):
    """What the person chose for a file; nothing is guessed over it.

    `units` by field; `only_station` takes the rows of one station alone;
    `as_gaps` keeps what cannot be as a marked gap; `correct` puts the file's values in
    place of those on record.
    """

    units: Mapping[str, str] = field(default_factory=dict)
    only_station: str = ""
    as_gaps: bool = False
    correct: bool = False


@dataclass(frozen=True, slots=True)
class WeatherColumn(SheetColumn):
    """One column of the file: what it is taken for, and in which unit, how found."""

    unit: str = ""
    how: How | None = None
    units: tuple[str, ...] = ()

    @property
    def is_asked(self) -> bool:
        return self.how is How.ASKED


@dataclass(frozen=True, slots=True)
class DayPlan:
    """One day to be: its values in SI units, what was written, what is marked."""

    on: date
    values: Mapping[str, float | None]
    written: Mapping[str, str]
    flags: Mapping[str, str]


# A row is named by its day.
WeatherRow = RowResult[WeatherFate, DayPlan]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherPreview(SheetPreview[WeatherFate, DayPlan, WeatherColumn]):
    """A whole weather file looked through, with the days that it leaves out."""

    sort: str
    missing: tuple[tuple[date, date], ...] = ()
    stations: tuple[str, ...] = ()
    impossible: int = 0

    @property
    def new(self) -> int:
        return self.count(WeatherFate.NEW)

    @property
    def here(self) -> int:
        return self.count(WeatherFate.HERE, WeatherFate.TWICE)

    @property
    def corrected(self) -> int:
        return sum(row.replaces is not None and not row.reasons for row in self.rows)

    @property
    def differing(self) -> int:
        return sum(row.replaces is not None for row in self.rows)

    @property
    def changed(self) -> int:
        return self.new + self.corrected

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
    def first_days(self) -> tuple[WeatherRow, ...]:
        """Give a handful of days as they would be kept."""
        return tuple(row for row in self.rows if row.plan is not None)[:5]

    @property
    def asked_units(self) -> tuple[WeatherColumn, ...]:
        return tuple(column for column in self.columns if column.is_asked)
