"""The ledger: the only creator of Change rows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Required, TypedDict, Unpack
from uuid import UUID

from django.db import models

from orchard.records.models import Change, Orchard, Tree, User
from orchard.services.audit.verbs import Verb

# The lines of the block that writes its own together at its end.
_waiting: ContextVar[list[Change] | None] = ContextVar("waiting_lines", default=None)


# Who writes down in a block what others saw or did.
_writer: ContextVar[User | None] = ContextVar("writer", default=None)


@contextmanager
def written_down_by(writer: User | None) -> Iterator[None]:
    """Name in every line of a block who wrote it down, not who it is by.

    With None, lines name whom they are by, as ever.
    """
    token = _writer.set(writer)
    try:
        yield
    finally:
        _writer.reset(token)


@contextmanager
def written_together() -> Iterator[None]:
    """Write the lines of a block in one go at its end, inside its transaction.

    A block within another leaves its lines to it. Those of a block that fails are
    dropped, as the transaction drops what they tell of. Within a block, catch only
    failures of a block or of what writes no line: other lines would stay where their
    rows are rolled back.
    """
    outer = _waiting.get()
    lines = [] if outer is None else outer
    before = len(lines)
    token = _waiting.set(lines)
    try:
        yield
    except BaseException:
        del lines[before:]
        raise
    finally:
        _waiting.reset(token)
    if outer is None:
        write_lines(lines)


def snapshot(row: models.Model, *fields: str) -> dict[str, Any]:
    """Return the named fields of a row (all without names) as plain JSON values."""
    names = fields or tuple(field.attname for field in row._meta.concrete_fields)
    return {name: plain(getattr(row, name)) for name in names}


def plain(value: Any) -> Any:
    """Return a value in a form that JSON can hold."""
    match value:
        case None | bool() | int() | float() | str():
            return value
        case datetime() | date():
            return value.isoformat()
        case Decimal() | UUID():
            return str(value)
        case dict():
            return {str(key): plain(item) for key, item in value.items()}
        case list() | tuple() | set():
            return [plain(item) for item in value]
        case models.Model():
            return value.pk
        case _:
            return str(value)


class LineDetails(TypedDict, total=False):
    """What a line of the ledger says beside its verb and its subject.

    `by` is None for what the clock does.
    """

    by: Required[User | None]
    now: Required[datetime]
    orchard: Required[Orchard | None]
    tree: Tree | None
    before: dict[str, Any] | None
    after: dict[str, Any] | None
    reason: str
    private: bool


def insert(rows: Sequence[models.Model]) -> None:
    """Insert new rows of one table: one alone costs half of what it does in a batch."""
    if len(rows) == 1:
        rows[0].save(force_insert=True)
    elif rows:
        type(rows[0])._default_manager.bulk_create(rows, batch_size=500)


def line(verb: Verb, subject: models.Model, **details: Unpack[LineDetails]) -> Change:
    """Return a line for the ledger, not yet added to it.

    Within `written_down_by` it is by whoever writes, and says who it is about.
    The person's name is kept as text, so that the line stays readable whatever becomes
    of the person.
    """
    by, after = details["by"], details.get("after")
    writer = _writer.get()
    if writer is not None and by is not None and writer != by:
        after = {**(after or {}), "written_down_for": by.name}
        by = writer
    return Change(
        orchard=details["orchard"],
        tree=details.get("tree"),
        at=details["now"],
        by=by,
        by_name=by.name if by else "",
        verb=verb,
        subject_type=subject._meta.model_name or "",
        subject_id=subject.pk,
        subject_label=str(subject)[:200],
        before=plain(details.get("before")),
        after=plain(after),
        reason=details.get("reason", ""),
        private=details.get("private", False),
    )


def write(verb: Verb, subject: models.Model, **details: Unpack[LineDetails]) -> Change:
    """Add a line to the ledger; call it inside the transaction of the change."""
    change = line(verb, subject, **details)
    if (waiting := _waiting.get()) is not None:
        waiting.append(change)
    else:
        change.save(force_insert=True)
    return change


def write_lines(lines: Iterable[Change]) -> None:
    """Add many lines to the ledger at once, inside the transaction of the changes."""
    if (waiting := _waiting.get()) is not None:
        waiting.extend(lines)
    else:
        insert(list(lines))


def write_many(
    verb: Verb,
    subjects: Iterable[tuple[models.Model, Tree | None, dict[str, Any] | None]],
    *,
    by: User | None,
    now: datetime,
    orchard: Orchard | None,
    reason: str = "",
) -> None:
    """Add one line for each of many rows alike: the row, its tree, what it became."""
    write_lines(
        line(
            verb,
            subject,
            by=by,
            now=now,
            orchard=orchard,
            tree=tree,
            after=after,
            reason=reason,
        )
        for subject, tree, after in subjects
    )
