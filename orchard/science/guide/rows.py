"""Reading one row of a guide file: every wrong value names file, row and remedy."""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterator, Mapping
from enum import StrEnum
from pathlib import Path
from typing import TypeVar, cast

Word = TypeVar("Word", bound=StrEnum)


class GuideError(ValueError):
    """The guide cannot be used; the sentence names the file, the row and the fault."""


class Row:
    """A table of a guide file that says where it stands when something is wrong.

    Every value must be asked for: `finish` refuses what nobody asked for.
    """

    def __init__(self, file: str, kind: str, values: Mapping[str, object]) -> None:
        self.values = values
        name = values.get("key") or values.get("name") or values.get("code") or "?"
        self.place = f"{file}, {kind} {name}"
        self.asked: set[str] = set()

    def error(self, message: str) -> GuideError:
        """Make the refusal for this row."""
        return GuideError(f"{self.place}: {message}")

    def _value(self, key: str) -> object:
        self.asked.add(key)
        if key not in self.values:
            raise self.error(f"{key} is missing.")
        return self.values[key]

    def has(self, key: str) -> bool:
        """Say whether a key is there at all."""
        self.asked.add(key)
        return key in self.values

    def text(self, key: str, default: str | None = None) -> str:
        """Give a text; without a default it must not be empty."""
        if default is not None and not self.has(key):
            return default
        value = self._value(key)
        if not isinstance(value, str):
            raise self.error(f"{key} must be a text, not {value!r}.")
        if default is None and not value.strip():
            raise self.error(f"{key} must not be empty.")
        return value

    def truth(self, key: str, default: bool | None = None) -> bool:
        """Give true or false."""
        if default is not None and not self.has(key):
            return default
        value = self._value(key)
        if not isinstance(value, bool):
            raise self.error(f"{key} must be true or false, not {value!r}.")
        return value

    def number(self, key: str, low: float, high: float) -> float:
        """Give a number within bounds."""
        value = self._value(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.error(f"{key} must be a number, not {value!r}.")
        if not low <= value <= high:
            raise self.error(f"{key} is {value}, outside {low:g} to {high:g}.")
        return value

    def whole(self, key: str, low: int, high: int) -> int:
        """Give a whole number within bounds."""
        value = self.number(key, low, high)
        if not isinstance(value, int):
            raise self.error(f"{key} must be a whole number, not {value!r}.")
        return value

    def maybe_whole(self, key: str, low: int, high: int) -> int | None:
        """Give a whole number within bounds, None when it is not there."""
        return self.whole(key, low, high) if self.has(key) else None

    def word(self, key: str, words: type[Word]) -> Word:
        """Give a word of a closed list."""
        value = self.text(key)
        try:
            return words(value)
        except ValueError:
            raise self.error(f"{key} is {value!r}, not one of {_all(words)}.") from None

    def texts(self, key: str) -> tuple[str, ...]:
        """Give a list of texts, none of them empty."""
        value = self._value(key)
        if not isinstance(value, list) or not all(
            isinstance(one, str) and one.strip() for one in value
        ):
            raise self.error(f"{key} must be a list of texts, not {value!r}.")
        return tuple(value)

    def words(self, key: str, words: type[Word]) -> tuple[Word, ...]:
        """Give a list of words of a closed list, at least one."""
        try:
            found = tuple(words(one) for one in self.texts(key))
        except ValueError as strange:
            raise self.error(f"{key}: {strange}; it takes {_all(words)}.") from None
        if not found:
            raise self.error(f"{key} must not be empty.")
        return found

    def wholes(self, key: str, low: int, high: int) -> tuple[int, ...]:
        """Give a list of whole numbers within bounds."""
        value = self._value(key)
        if not isinstance(value, list):
            raise self.error(f"{key} must be a list, not {value!r}.")
        for one in value:
            if isinstance(one, bool) or not isinstance(one, int):
                raise self.error(f"{key} holds {one!r}, no whole number.")
            if not low <= one <= high:
                raise self.error(f"{key} holds {one}, outside {low} to {high}.")
        return tuple(value)

    def table(self, key: str) -> Mapping[str, object]:
        """Give a table inside the row."""
        value = self._value(key)
        if not isinstance(value, dict):
            raise self.error(f"{key} must be a table, not {value!r}.")
        return cast("Mapping[str, object]", value)

    def rows(self, key: str, kind: str) -> list[Row]:
        """Give the tables listed under a key, numbered from 1; none is no fault."""
        if not self.has(key):
            return []
        value = self.values[key]
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            raise self.error(f"{key} must be a list of tables.")
        rows = []
        for number, one in enumerate(value, start=1):
            row = Row("", kind, one)
            row.place = f"{self.place}, {kind} {number}"
            rows.append(row)
        return rows

    def sources(self, known: Collection[str]) -> tuple[str, ...]:
        """Give the row's sources: at least one, each known."""
        keys = self.texts("sources")
        if not keys:
            raise self.error("sources is empty; a row without a source is not used.")
        for key in keys:
            if key not in known:
                raise self.error(f"source {key!r} is not in sources.toml.")
        return keys

    def finish(self) -> None:
        """Refuse a row with a key that means nothing."""
        strange = sorted(set(self.values) - self.asked)
        if strange:
            raise self.error(f"{strange[0]!r} means nothing here.")


def _all(words: type[StrEnum]) -> str:
    return ", ".join(words)


def read_file(path: Path, *kinds: str) -> Iterator[tuple[str, Row]]:
    """Yield the rows of a guide file with their kind, refusing other tables."""
    name = path.name if path.parent.name != "signs" else f"signs/{path.name}"
    try:
        with path.open("rb") as file:
            tables = tomllib.load(file)
    except FileNotFoundError:
        raise GuideError(f"{name}: the file is missing.") from None
    except tomllib.TOMLDecodeError as fault:
        raise GuideError(f"{name}: {fault}.") from None
    for kind, values in tables.items():
        if kind not in kinds or not isinstance(values, list):
            raise GuideError(f"{name}: {kind!r} means nothing here.")
        for one in values:
            yield kind, Row(name, kind, one)
