"""Long lists in pages: a page begins after the key of the row before it.

Whatever is added meanwhile, no row is shown twice and none is left out. A page far down
a list of the database costs what the first one costs (`page_by_key`); rows that were
worked out are all there whatever page is shown (`page_of_rows`). A list that says where
a page lies in the whole, or has no key to go on from, is paged by number
(`page_by_number`).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, Generic, TypeVar

from django.db.models import DateTimeField, Model, Q, QuerySet

Item = TypeVar("Item")
Other = TypeVar("Other")
Row = TypeVar("Row", bound=Model)
WHOLE_NUMBER = re.compile(r"-?\d{1,18}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Page(Generic[Item]):
    """Some rows of a list, and the key of the next page: "" when this is the last."""

    rows: tuple[Item, ...]
    next_key: str


@dataclass(frozen=True, slots=True)
class NumberedPage(Generic[Item]):
    """Some rows of a list, and where they lie in the whole."""

    rows: tuple[Item, ...]
    number: int
    pages: int
    total: int
    size: int

    @property
    def first(self) -> int:
        return (self.number - 1) * self.size + 1 if self.total else 0

    @property
    def last(self) -> int:
        return self.first + len(self.rows) - 1 if self.total else 0

    def showing(self, rows: Iterable[Other]) -> NumberedPage[Other]:
        """Return the same page with other things in place of its rows, one for each."""
        return NumberedPage(tuple(rows), self.number, self.pages, self.total, self.size)


def page_by_number(
    rows: QuerySet[Any, Item], *, number: int, size: int
) -> NumberedPage[Item]:
    """Return a page of ordered rows, in two queries; beyond the end it is the last.

    The order must tell every two rows apart.
    """
    total = rows.count()
    pages = max(1, -(-total // size))
    number = min(max(number, 1), pages)
    start = (number - 1) * size
    # With nothing to show the database is asked once.
    shown = tuple(rows[start : start + size]) if total else ()
    return NumberedPage(shown, number, pages, total, size)


def page_of_rows(
    rows: Sequence[Item], key: Callable[[Item], object], *, after: str = "", size: int
) -> Page[Item]:
    """Return the page, of rows that were worked out, that begins after a key.

    A key that none of the rows has starts from the top.
    """
    keys = [str(key(row)) for row in rows] if after else []
    start = keys.index(after) + 1 if after in keys else 0
    shown = tuple(rows[start : start + size])
    next_key = str(key(shown[-1])) if len(rows) > start + size else ""
    return Page(shown, next_key)


def page_by_key(
    rows: QuerySet[Row], *order: str, after: str = "", size: int
) -> Page[Row]:
    """Return the page of the ordered rows that begins after a key.

    The columns of `order` hold whole numbers, days or moments, are never empty, and
    tell every two rows apart. A key that makes no sense, or after which there is
    nothing any more, starts from the top.
    """
    ordered = rows.order_by(*order)
    key = _read(after)
    found: list[Row] = []
    if _fits(key, rows.model, order):
        # A number where a day belongs, or the other way round, makes no sense either.
        with suppress(TypeError):
            found = list(ordered.filter(_later(order, key))[: size + 1])
    found = found or list(ordered[: size + 1])
    next_key = _key(found[size - 1], order) if len(found) > size else ""
    return Page(tuple(found[:size]), next_key)


def _key(row: Model, order: Sequence[str]) -> str:
    return ".".join(_written(getattr(row, name.removeprefix("-"))) for name in order)


def _written(value: Any) -> str:
    if not isinstance(value, datetime):
        return str(value)
    # The full stop stands between the columns.
    return value.astimezone(UTC).isoformat(timespec="microseconds").replace(".", ",")


def _read(text: str) -> list[int | date]:
    try:
        return [_value(part) for part in text.split(".")]
    except (ValueError, OverflowError):
        return []


def _value(part: str) -> int | date:
    if WHOLE_NUMBER.fullmatch(part):
        return int(part)
    if "T" not in part:
        return date.fromisoformat(part)
    return datetime.fromisoformat(part.replace(",", ".")).astimezone(UTC)


def _fits(key: Sequence[int | date], model: type[Model], order: Sequence[str]) -> bool:
    """Say whether a key has a value for each column, and moments where they belong."""
    return len(key) == len(order) and all(
        isinstance(value, datetime)
        == isinstance(model._meta.get_field(name.removeprefix("-")), DateTimeField)
        for value, name in zip(key, order, strict=True)
    )


def _later(order: Sequence[str], key: Sequence[Any]) -> Q:
    """Return the condition of the rows that come after a key."""
    later, same = Q(), Q()
    for name, value in zip(order, key, strict=True):
        column = name.removeprefix("-")
        comparison = "lt" if name.startswith("-") else "gt"
        later |= same & Q(**{f"{column}__{comparison}": value})
        same &= Q(**{column: value})
    return later
