"""Reading the rows of a guide file: every wrong value is noted, and reading goes on."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Container, Mapping
from difflib import get_close_matches
from enum import StrEnum
from functools import cached_property
from pathlib import Path
from typing import TypeVar, cast

from orchard.science.guide_files.faults import Fault
from orchard.science.guide_files.lines import find_lines

Word = TypeVar("Word", bound=StrEnum)
Given = TypeVar("Given")


class Everything:
    """The keys of a file that could not be read: any may be among them."""

    def __contains__(self, key: object) -> bool:
        return True


class GuideFile:
    """A file of the guide, which finds the line of a row or a value when asked."""

    def __init__(self, name: str, text: str) -> None:
        self.name = name
        self._text = text

    @cached_property
    def _lines(self) -> dict[tuple[str | int, ...], int]:
        return find_lines(self._text)

    def line_of(self, path: tuple[str | int, ...]) -> int | None:
        """Return the line of a value, or of the nearest that holds it."""
        for length in range(len(path), 0, -1):
            if path[:length] in self._lines:
                return self._lines[path[:length]]
        return None


class Row:
    """A row of a guide file, or of a rule list that an orchard wrote.

    A wrong value is noted as a fault, and a stand-in of the right type is returned, so
    that the rest of the row can be read too. Every value must be asked for: `finish`
    notes what nobody asked for.
    """

    def __init__(
        self,
        values: Mapping[str, object],
        *,
        label: str,
        faults: list[Fault],
        file: GuideFile | None = None,
        path: tuple[str | int, ...] = (),
    ) -> None:
        self.values = values
        self.label = label
        self._faults = faults
        self._file = file
        self._path = path
        self._asked: set[str] = set()
        self._wrong: set[str] = set()

    def note_fault(self, field: str, problem: str) -> None:
        """Note what is wrong with a field, "" for the whole row, and how to mend it."""
        self._wrong.add(field)
        self._faults.append(
            Fault(
                problem,
                file=self._file.name if self._file else "",
                line=self._file.line_of((*self._path, field)) if self._file else None,
                row=self.label,
                field=field,
            )
        )

    @property
    def place(self) -> str:
        """Say where the row stands: file, line and key."""
        if self._file is None:
            return self.label
        return f"{self._file.name}, line {self._file.line_of(self._path)}"

    @property
    def file_stem(self) -> str:
        """Name the file without its folder and ending."""
        return Path(self._file.name).stem if self._file else ""

    def is_sound(self, *fields: str) -> bool:
        """Say whether nothing is wrong with these fields, with none given, with any."""
        return not self._wrong.intersection(fields or self._wrong)

    def has(self, field: str) -> bool:
        """Say whether a field is there at all."""
        self._asked.add(field)
        return field in self.values

    def text(self, field: str, default: str | None = None) -> str:
        """Return a text; without a default it must not be empty."""
        if default is not None and not self.has(field):
            return default
        value = self._value(field, str, "a text in quotes")
        if value is None:
            return ""
        if default is None and not value.strip():
            self.note_fault(field, "it is empty; write a text.")
        return value

    def truth(self, field: str, default: bool | None = None) -> bool:
        """Return true or false."""
        if default is not None and not self.has(field):
            return default
        return self._value(field, bool, "true or false, without quotes") or False

    def number(self, field: str, low: float, high: float) -> float:
        """Return a number within bounds."""
        value = self._value(field, (int, float), "a number, without quotes")
        if value is None:
            return low
        if not low <= value <= high:
            self.note_fault(
                field, f"it is {value}; it can only be {low:g} to {high:g}."
            )
        return value

    def whole(self, field: str, low: int, high: int) -> int:
        """Return a whole number within bounds."""
        value = self.number(field, low, high)
        if isinstance(value, int):
            return value
        self.note_fault(field, f"it must be a whole number, not {value!r}.")
        return low

    def optional_whole(self, field: str, low: int, high: int) -> int | None:
        """Return a whole number within bounds, None when it is not there."""
        return self.whole(field, low, high) if self.has(field) else None

    def choice(self, field: str, choices: Collection[str]) -> str:
        """Return one of several texts."""
        value = self.text(field)
        if self.is_sound(field) and value not in choices:
            self.note_fault(
                field, f"it is {value!r}; it can only be one of {', '.join(choices)}."
            )
        return value

    def word(self, field: str, words: type[Word]) -> Word:
        """Return a word of a closed list."""
        value = self.choice(field, [word.value for word in words])
        return words(value) if self.is_sound(field) else next(iter(words))

    def key(self, field: str, keys: Container[str], file: str) -> str:
        """Return the key of another row, which must stand in its file."""
        value = self.text(field)
        if self.is_sound(field):
            self._check_key(field, value, keys, file)
        return value

    def texts(self, field: str) -> tuple[str, ...]:
        """Return a list of texts, none of them empty."""
        value = self._value(field, list, 'a list of texts such as ["a", "b"]')
        if value is None:
            return ()
        if not all(isinstance(entry, str) and entry.strip() for entry in value):
            self.note_fault(
                field,
                f'it must be a list of texts such as ["a", "b"], none empty, '
                f"not {value!r}.",
            )
            return ()
        return tuple(value)

    def choices(self, field: str, choices: Collection[str]) -> tuple[str, ...]:
        """Return several of some texts, perhaps none."""
        values = self.texts(field)
        for value in values:
            if value not in choices:
                self.note_fault(
                    field,
                    f"it holds {value!r}; it can only hold {', '.join(choices)}.",
                )
        return values

    def words(self, field: str, words: type[Word]) -> tuple[Word, ...]:
        """Return words of a closed list, at least one."""
        values = self.choices(field, [word.value for word in words])
        if not self.is_sound(field):
            return ()
        if not values:
            self.note_fault(field, f"it is empty; name some of {', '.join(words)}.")
        return tuple(words(value) for value in values)

    def keys(self, field: str, keys: Container[str], file: str) -> tuple[str, ...]:
        """Return keys of other rows, which must stand in their file; perhaps none."""
        values = self.texts(field)
        for value in values:
            self._check_key(field, value, keys, file)
        return values

    def sources(self, sources: Container[str]) -> tuple[str, ...]:
        """Return the row's sources: at least one, each in the list of sources."""
        keys = self.keys("sources", sources, "sources.toml")
        if not keys and self.is_sound("sources"):
            self.note_fault(
                "sources", "it is empty; a row without a source is not used, name one."
            )
        return keys

    def wholes(self, field: str, low: int, high: int) -> tuple[int, ...]:
        """Return a list of whole numbers within bounds."""
        values = self._value(field, list, "a list of whole numbers such as [1, 2]")
        for value in values or ():
            is_whole = isinstance(value, int) and not isinstance(value, bool)
            if not is_whole or not low <= value <= high:
                self.note_fault(
                    field,
                    f"it holds {value!r}; it can only hold whole numbers from {low} "
                    f"to {high}.",
                )
        return tuple(values) if values and self.is_sound(field) else ()

    def numbers(self, field: str) -> tuple[float, ...]:
        """Return a list of numbers, at least one."""
        values = self._value(field, list, "a list of numbers such as [0.5, 1]")
        if values is None:
            return ()
        if not values or not all(
            isinstance(value, int | float) and not isinstance(value, bool)
            for value in values
        ):
            self.note_fault(field, f"it must be a list of numbers, not {values!r}.")
            return ()
        return tuple(values)

    def table(self, field: str) -> Mapping[str, object]:
        """Return a table inside the row."""
        value = self._value(field, dict, "a table such as { setting = 3 }")
        return cast("Mapping[str, object]", value or {})

    def rows(self, field: str, kind: str) -> list[Row]:
        """Return the tables listed under a field, numbered from 1; none is no fault."""
        if not self.has(field):
            return []
        values = self._value(field, list, "a list of tables")
        if not all(isinstance(value, dict) for value in values or ()):
            self.note_fault(field, "it must be a list of tables.")
            return []
        return [
            Row(
                value,
                label=f"{self.label}, {kind} {number}",
                faults=self._faults,
                file=self._file,
                path=(*self._path, field, number - 1),
            )
            for number, value in enumerate(values or (), start=1)
        ]

    def finish(self) -> None:
        """Note every field that means nothing in this row."""
        for field in self.values:
            if field not in self._asked:
                missing = sorted(self._asked - set(self.values))
                close = get_close_matches(field, missing, 1)
                mend = f"did you mean {close[0]}?" if close else "take it out."
                self.note_fault(field, f"this field means nothing here; {mend}")

    def _check_key(
        self, field: str, value: str, keys: Container[str], file: str
    ) -> None:
        if value not in keys:
            self.note_fault(
                field, f"{value!r} is not in {file}; add it there or mend its spelling."
            )

    def _value(
        self, field: str, types: type[Given] | tuple[type[Given], ...], words: str
    ) -> Given | None:
        self._asked.add(field)
        if field not in self.values:
            self.note_fault(field, f"it is missing; add {words}.")
            return None
        value = self.values[field]
        wants_truth = types is bool
        if isinstance(value, types) and isinstance(value, bool) is wants_truth:
            return value
        self.note_fault(field, f"it must be {words}, not {value!r}.")
        return None


def read_rows(
    folder: Path, name: str, kinds: Collection[str], faults: list[Fault]
) -> dict[str, list[Row]] | None:
    """Return the rows of a file by their kind; None when it cannot be read at all."""
    try:
        text = (folder / name).read_text("utf-8")
        tables = tomllib.loads(text)
    except FileNotFoundError:
        faults.append(Fault("the file is missing; put it back.", file=name))
        return None
    except UnicodeDecodeError:
        faults.append(Fault("the file is not UTF-8; save it so.", file=name))
        return None
    except tomllib.TOMLDecodeError as refusal:
        line = re.search(r"at line (\d+)", str(refusal))
        faults.append(
            Fault(
                f"this is no TOML; mend what stands there or just above: {refusal}.",
                file=name,
                line=int(line[1]) if line else text.count("\n") + 1,
            )
        )
        return None
    file = GuideFile(name, text)
    found: dict[str, list[Row]] = {kind: [] for kind in kinds}
    for kind, entries in tables.items():
        if kind not in kinds or not _is_list_of_tables(entries):
            allowed = " and ".join(f"[[{name}]]" for name in kinds)
            problem = f"{kind!r} means nothing here; the file takes {allowed}."
            line_number = file.line_of((kind,)) or file.line_of((kind, 0))
            faults.append(Fault(problem, file=name, line=line_number))
            continue
        found[kind] = [
            Row(
                entry,
                label=f"{kind} {_name(entry) or f'number {number}'}",
                faults=faults,
                file=file,
                path=(kind, number - 1),
            )
            for number, entry in enumerate(entries, start=1)
        ]
    return found


def _is_list_of_tables(entries: object) -> bool:
    return isinstance(entries, list) and all(
        isinstance(entry, dict) for entry in entries
    )


def _name(values: Mapping[str, object]) -> object:
    return values.get("key") or values.get("name") or values.get("code")
