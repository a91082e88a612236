"""The numbers someone may argue with, read from the guide's files with sources."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from orchard.science.source import How

GUIDE_FOLDER = Path(__file__).resolve().parent / "guide"


class FiguresError(ValueError):
    """A row of the figures cannot be used; the sentence names the file and the row."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One number with its unit, what it stands for, its source and how it is known."""

    key: str
    value: float
    unit: str
    what: str
    source: str
    how: How


def rows(table: str, file: str = "constants.toml") -> tuple[dict[str, Any], ...]:
    """Return the rows of one table of a guide file, each with source, unit and `how`.

    Raises
    ------
    FiguresError
        When the table is missing or a row lacks a source, a unit or a true `how`.
    """
    path = GUIDE_FOLDER / file
    found = _tables(path).get(table)
    if not found:
        raise FiguresError(f"{path.name} has no rows in its table {table!r}.")
    return found


@lru_cache(maxsize=16)
def _tables(path: Path) -> dict[str, tuple[dict[str, Any], ...]]:
    with path.open("rb") as handle:
        content = tomllib.load(handle)
    return {
        table: tuple(_checked(path.name, table, row) for row in found)
        for table, found in content.items()
        if isinstance(found, list)
    }


def _checked(file: str, table: str, row: dict[str, Any]) -> dict[str, Any]:
    name = row.get("key", "?")
    for needed in ("key", "source", "unit", "how"):
        if not row.get(needed):
            raise FiguresError(f"{file}, {table} row {name!r}: {needed} is missing.")
    if row["how"] not in {how.value for how in How}:
        raise FiguresError(
            f"{file}, {table} row {name!r}: how is {row['how']!r}; "
            f"allowed is read or memory."
        )
    return row


@lru_cache(maxsize=1)
def _figures() -> dict[str, Figure]:
    found: dict[str, Figure] = {}
    for row in rows("figure"):
        if row["key"] in found:
            raise FiguresError(f"constants.toml: figure {row['key']!r} stands twice.")
        found[row["key"]] = Figure(
            key=row["key"],
            value=float(row["value"]),
            unit=row["unit"],
            what=row["what"],
            source=row["source"],
            how=How(row["how"]),
        )
    return found


def figure(key: str) -> Figure:
    """Return one figure by its key."""
    try:
        return _figures()[key]
    except KeyError:
        raise FiguresError(f"constants.toml has no figure {key!r}.") from None


def all_figures() -> tuple[Figure, ...]:
    """Return every figure, so that a page can list them with their sources."""
    return tuple(_figures().values())
