"""The columns of a sheet: what an import can hold, and which heading stands for it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from orchard.services.imports.sheets.headings import Sheet

LEFT_OUT = ""


@dataclass(frozen=True, slots=True)
class Field:
    """What a column may hold: its name, and the headings taken for it in lower case."""

    label: object
    headings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetColumn:
    """One column of the file: its heading, an example, and what it is taken for."""

    number: int
    heading: str
    example: str
    field: str


def columns_of(sheet: Sheet, mapping: Sequence[str]) -> tuple[SheetColumn, ...]:
    """Return the columns of a sheet, each with an example and what it is taken for."""
    return tuple(
        SheetColumn(number, heading, sheet.example(number), field)
        for number, (heading, field) in enumerate(
            zip(sheet.headings, mapping, strict=True)
        )
    )


def labels(fields: Mapping[str, Field]) -> dict[str, object]:
    """Return what a column may be taken for, by code, with its name."""
    return {code: field.label for code, field in fields.items()}


def fields_matched(
    headings: Sequence[str],
    fields: Mapping[str, Field],
    spellings: Callable[[str], Iterable[str]],
) -> tuple[str, ...]:
    """Return what each heading is taken for; a heading nobody knows is left out.

    `spellings` lists the ways to read a heading, the likeliest first.
    """
    codes = {
        heading: code for code, field in fields.items() for heading in field.headings
    }
    taken: list[str] = []
    for heading in headings:
        code = next(
            (codes[way] for way in spellings(heading) if way in codes), LEFT_OUT
        )
        taken.append(code if code not in taken else LEFT_OUT)
    return tuple(taken)


def taken_twice(mapping: Sequence[str], fields: Mapping[str, Field]) -> list[str]:
    """Say which fields two columns are taken for; nothing when none is."""
    return [
        _("Two columns hold “%(name)s”. Leave one of them out.") % {"name": field.label}
        for code, field in fields.items()
        if list(mapping).count(code) > 1
    ]
