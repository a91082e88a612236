"""The numbers someone may argue with, read from the guide's files with sources."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal, InvalidOperation
from functools import lru_cache
from pathlib import Path
from typing import Any

from orchard.science.guide_files import (
    GUIDE_FOLDER,
    Fault,
    GuideError,
    Row,
    read_rows,
)
from orchard.science.source import Verification

Column = Callable[[Row, str], object]


@dataclass(frozen=True, slots=True)
class Figure:
    """One number with its unit, what it stands for, its source and whether read."""

    key: str
    value: float
    unit: str
    what: str
    source: str
    how: Verification


@dataclass(frozen=True, slots=True)
class Tables:
    """The figures, the rows of every table by file and table, and what is wrong."""

    figures: Mapping[str, Figure]
    rows: Mapping[tuple[str, str], tuple[dict[str, Any], ...]]
    faults: tuple[Fault, ...]


def figure(key: str) -> Figure:
    """Return one figure by its key; GuideError when the guide has none such."""
    figures = _sound_tables().figures
    if key not in figures:
        problem = "it is missing; add a [[figure]] with unit and source."
        raise GuideError([Fault(problem, row=f"figure {key}")])
    return figures[key]


def days(key: str) -> timedelta:
    """Return a figure that is counted in days."""
    return timedelta(days=figure(key).value)


def hours(key: str) -> timedelta:
    """Return a figure that is counted in hours."""
    return timedelta(hours=figure(key).value)


def stages(key: str) -> range:
    """Return the growth stages (BBCH) of a span that the guide names."""
    span = _practice("stage_span", key)
    return range(span["first"], span["last"] + 1)


def limits(key: str) -> tuple[float, float]:
    """Return the lowest and highest that a reading can be without being a slip."""
    limit = _practice("limit", key)
    return limit["low"], limit["high"]


def _practice(table: str, key: str) -> dict[str, Any]:
    for row in rows(table, "practice.toml"):
        if row["key"] == key:
            return row
    problem = f"it is missing; add a [[{table}]]."
    raise GuideError([Fault(problem, "practice.toml", row=f"{table} {key}")])


def all_figures() -> tuple[Figure, ...]:
    """Return every figure, so that a page can list them with their sources."""
    return tuple(_sound_tables().figures.values())


def rows(table: str, file: str = "constants.toml") -> tuple[dict[str, Any], ...]:
    """Return the rows of one table of a guide file, each with source, unit and `how`.

    GuideError when the guide has no such table.
    """
    found = _sound_tables().rows.get((file, table))
    if not found:
        raise GuideError([Fault(f"it has no [[{table}]]; add its rows.", file)])
    return found


def read_tables(folder: Path) -> Tables:
    """Read the files of figures in a folder, noting all their faults."""
    return _default_tables() if folder == GUIDE_FOLDER else _read_tables(folder)


@lru_cache(maxsize=1)
def _default_tables() -> Tables:
    return _read_tables(GUIDE_FOLDER)


def _sound_tables() -> Tables:
    tables = _default_tables()
    if tables.faults:
        raise GuideError(tables.faults)
    return tables


def _read_tables(folder: Path) -> Tables:
    faults: list[Fault] = []
    found: dict[tuple[str, str], list[Row]] = {}
    keys: dict[str, set[str]] = {}
    for file, columns_of in _COLUMNS.items():
        tables = read_rows(folder, file, columns_of, faults)
        for table, table_rows in (tables or {}).items():
            found[file, table] = table_rows
            if not table_rows:
                faults.append(Fault(f"it has no [[{table}]]; add its rows.", file))
            for row in table_rows:
                _read_row(row, columns_of[table], keys.setdefault(table, set()))
    _check_references(found)
    for table_rows in found.values():
        for row in table_rows:
            row.finish()
    figures = {}
    for (_file, table), table_rows in found.items():
        for row in table_rows:
            if table == "figure" and row.is_sound():
                figure = _read_figure(row)
                figures[figure.key] = figure
    return Tables(
        figures=figures,
        rows={
            place: tuple(dict(row.values) for row in table_rows)
            for place, table_rows in found.items()
        },
        faults=tuple(faults),
    )


def _read_row(row: Row, columns: Mapping[str, Column], keys: set[str]) -> None:
    key = row.text("key")
    if key and key in keys:
        row.note_fault("key", f"{key!r} stands here twice; give one another key.")
    keys.add(key)
    row.text("unit")
    row.text("source")
    row.word("how", Verification)
    for column, read in columns.items():
        read(row, column)


def _read_figure(row: Row) -> Figure:
    return Figure(
        key=row.text("key"),
        value=float(_number(row, "value")),
        unit=row.text("unit"),
        what=row.text("what"),
        source=row.text("source"),
        how=row.word("how", Verification),
    )


def _check_references(found: Mapping[tuple[str, str], list[Row]]) -> None:
    """Note a row named that is not there, and a requirement that asks nothing."""
    file = "ripeness.toml"
    standards = _keys_of(found.get((file, "standard"), []))
    tables = _keys_of(found.get((file, "table"), []))
    for row in found.get((file, "standard"), []):
        if row.has("based_on"):
            row.key("based_on", standards, file)
    for row in found.get((file, "requirement"), []):
        row.key("standard", standards, file)
        if row.has("table"):
            row.key("table", tables, file)
        elif not row.has("at_least"):
            row.note_fault("at_least", "it is missing; add it, or a table.")
    file = "feeding.toml"
    sets = _keys_of(found.get((file, "leaf_set"), []))
    nutrients = _keys_of(found.get((file, "nutrient"), []))
    for row in found.get((file, "leaf"), []):
        row.key("leaf_set", sets, file)
        row.key("nutrient", nutrients, file)


def _keys_of(table_rows: list[Row]) -> Container[str]:
    return {str(row.values.get("key")) for row in table_rows}


def _number(row: Row, field: str) -> float:
    return row.number(field, -1e6, 1e6)


def _whole(row: Row, field: str) -> int:
    return row.whole(field, 0, 1000)


def _text(row: Row, field: str) -> str:
    return row.text(field)


def _numbers(row: Row, field: str) -> tuple[float, ...]:
    return row.numbers(field)


def _optional_numbers(row: Row, field: str) -> tuple[float, ...] | None:
    return row.numbers(field) if row.has(field) else None


def _texts(row: Row, field: str) -> tuple[str, ...]:
    return row.texts(field)


def _optional_text(row: Row, field: str) -> str | None:
    return row.text(field) if row.has(field) else None


def _optional_number(row: Row, field: str) -> float | None:
    return _number(row, field) if row.has(field) else None


def _high(row: Row, field: str) -> None:
    """Read the end of a span that begins at `low`."""
    _check_order(row, "low", field, _number(row, field))


def _last(row: Row, field: str) -> None:
    """Read the last of the stages that begin at `first`."""
    _check_order(row, "first", field, row.whole(field, 0, 99))


def _check_order(row: Row, low: str, high: str, value: float) -> None:
    start = row.values.get(low)
    if row.is_sound(high) and isinstance(start, int | float) and value < start:
        row.note_fault(high, f"it is {value}, less than {low}; put the larger here.")


def _measure(row: Row, field: str) -> str:
    return row.choice(field, MEASURES)


def _printed(row: Row, field: str) -> None:
    """Read a number as printed, with its decimals; "" where a class has no start."""
    text = row.text(field, "")
    try:
        Decimal(text or "0")
    except InvalidOperation:
        row.note_fault(field, f'it must be a number in quotes or "", not {text!r}.')


MEASURES = ("brix", "acid", "acid_at_most", "juice", "juice_gallons", "ratio", "brima")

# What each table takes beside key, unit, source and how.
_COLUMNS: Mapping[str, Mapping[str, Mapping[str, Column]]] = {
    "constants.toml": {
        "figure": {"value": _number, "what": _text},
        "crop_coefficient": {
            "ground": _text,
            "canopy": _number,
            "initial": _number,
            "mid": _number,
            "end": _number,
        },
        "cover_gain": {"low": _number, "high": _high, "what": _text},
        "heat_gain": {"low": _number, "high": _high, "what": _text},
    },
    "practice.toml": {
        "figure": {"value": _number, "what": _text},
        "stage_span": {"first": _whole, "last": _last, "what": _text},
        "limit": {"low": _number, "high": _high, "what": _text},
    },
    "crops.toml": {"crop": {"words": _texts, "kinds": _texts, "but": _texts}},
    "feeding.toml": {
        "nitrogen": {
            "year": _whole,
            "applications": _whole,
            "low": _number,
            "high": _high,
        },
        "leaf_sampling": {"span": _text},
        "nutrient": {"name": _text, "low": _number, "high": _high},
        "leaf_set": {"name": _text, "months": _optional_numbers, "groups": _texts},
        "leaf": {
            "leaf_set": _text,
            "nutrient": _text,
            "decimals": _whole,
            "low": _printed,
            "optimum": _printed,
            "optimum_to": _printed,
            "excess_above": _printed,
        },
    },
    "ripeness.toml": {
        "standard": {"name": _text, "based_on": _optional_text},
        "requirement": {
            "kind": _text,
            "measure": _measure,
            "at_least": _optional_number,
        },
        "table": {
            "first": _number,
            "values": _numbers,
            "ratio_beyond": _optional_number,
        },
        "brix_correction": {"t_c": _number, "values": _numbers},
        "brima": {"k": _number, "scale": _number},
        "fruit": {"kinds": _texts},
    },
}
