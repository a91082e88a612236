"""What is found about a register before it is taken in."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from orchard.services.imports.register.plans import TreePlan
from orchard.services.imports.sheets import (
    RowResult,
    SheetChoices,
    SheetColumn,
    SheetPreview,
)


class RegisterFate(StrEnum):
    """What happens to a row."""

    NEW = "new"
    HERE = "here"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class RegisterChoices(SheetChoices):
    """What the person chose for a file; nothing is added that is not ticked."""

    new_blocks: frozenset[str] = frozenset()
    new_spots: frozenset[str] = frozenset()
    new_kinds: tuple[tuple[str, str], ...] = ()


# A row is named by the code of its tree, and its detail is the cultivar.
RegisterRow = RowResult[RegisterFate, TreePlan]


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


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterPreview(SheetPreview[RegisterFate, TreePlan, SheetColumn]):
    """A whole register looked through, with what the book would have to gain."""

    only_day_first: int = 0
    only_month_first: int = 0
    new_blocks: tuple[NewPlaces, ...] = ()
    new_spots: tuple[NewPlaces, ...] = ()
    new_kinds: tuple[NewKind, ...] = ()

    @property
    def block_groups(self) -> tuple[tuple[NewPlaces, ...], ...]:
        """Give the new blocks, those ticked and those not, each group with one tick."""
        groups = (
            tuple(place for place in self.new_blocks if place.ticked is ticked)
            for ticked in (True, False)
        )
        return tuple(group for group in groups if group)

    @property
    def new(self) -> int:
        return self.count(RegisterFate.NEW)

    @property
    def here(self) -> int:
        return self.count(RegisterFate.HERE)

    @property
    def changed(self) -> int:
        return self.new
