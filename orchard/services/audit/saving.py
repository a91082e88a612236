"""Saving a row of the book: checked whole, and written in the ledger with it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from datetime import datetime
from functools import cache
from typing import Any, TypeVar

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import IntegrityError, models, transaction

from orchard.records.models import Orchard, Tree, User
from orchard.services.audit.ledger import insert, line, snapshot, write, write_lines
from orchard.services.audit.verbs import Verb
from orchard.services.errors import Refused

Row = TypeVar("Row", bound=models.Model)


def save_row(row: models.Model, fields: Iterable[str] = ()) -> None:
    """Check a row and save it, or of a row that is there some fields alone.

    Constraints are the database's to hold. Only when it refuses is the row asked which
    of them it breaks, so a row that is right costs no question.

    Raises:
        Refused (invalid): the first complaint. Where there is a better sentence for
            it, the caller tests for it before.
    """
    with _refusing([row]), transaction.atomic():
        _write(row, fields)


def _write(row: models.Model, fields: Iterable[str]) -> None:
    if row._state.adding:
        row.save(force_insert=True)
    else:
        row.save(update_fields=list(fields) or None)


def save_new_rows(rows: Sequence[models.Model]) -> None:
    """Check new rows of one table and save them together; refuses as `save_row`."""
    if rows:
        with _refusing(rows), transaction.atomic():
            insert(rows)


@contextmanager
def _refusing(rows: Iterable[models.Model]) -> Iterator[None]:
    """Check the fields of rows before they are saved, and say what a database refuses.

    That a row it points to is there, the database promises without being asked.
    """
    try:
        for row in rows:
            row.clean_fields(exclude=_links(type(row)))
            row.clean()
        try:
            yield
        except IntegrityError:
            for row in rows:
                row.validate_unique()
                row.validate_constraints()
            raise
    except ValidationError as error:
        field, complaints = next(iter(error.message_dict.items()))
        raise Refused(
            complaints[0],
            code="invalid",
            field=None if field == NON_FIELD_ERRORS else field,
        ) from error


@cache
def _links(model: type[models.Model]) -> frozenset[str]:
    fields = model._meta.concrete_fields
    return frozenset(field.name for field in fields if field.is_relation)


def save(
    verb: Verb,
    row: Row,
    *,
    by: User | None,
    now: datetime,
    fields: Iterable[str] = (),
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    tree: Tree | None = None,
    reason: str = "",
    private: bool | None = None,
    is_checked: bool = False,
) -> Row:
    """Check a row whole, save it and tell of it in the ledger; return it.

    The line tells the given fields (all without names) as they are now, unless `after`
    says it otherwise. The orchard, the tree and whether it is private are the row's own
    where they are not given.

    With `is_checked` the row is saved as it is: for one that was checked just now, or
    where the book itself sets the fields (who has it, when it ended). That costs the
    two writes and no other question.

    Raises:
        Refused (invalid): as `save_row`.
    """
    fields = list(fields)
    checking = nullcontext() if is_checked else _refusing([row])
    with checking, transaction.atomic(savepoint=not is_checked):
        _write(row, fields)
        write(
            verb,
            row,
            by=by,
            now=now,
            orchard=_orchard_of(row),
            tree=tree or _tree_of(row),
            before=before,
            after=snapshot(row, *fields) if after is None else after,
            reason=reason,
            private=getattr(row, "private", False) if private is None else private,
        )
    return row


def save_all(
    verb: Verb,
    rows: Sequence[models.Model],
    *,
    by: User,
    now: datetime,
    fields: Iterable[str] = (),
) -> None:
    """Check new rows of one table whole, save them and tell of each in the ledger.

    The lines tell the given fields, all without names.
    """
    fields = list(fields)
    if not rows:
        return
    with _refusing(rows), transaction.atomic():
        insert(rows)
        write_lines(
            line(
                verb,
                row,
                by=by,
                now=now,
                orchard=_orchard_of(row),
                tree=_tree_of(row),
                after=snapshot(row, *fields),
                private=getattr(row, "private", False),
            )
            for row in rows
        )


def _tree_of(row: models.Model) -> Tree | None:
    return row if isinstance(row, Tree) else getattr(row, "tree", None)


def _orchard_of(row: models.Model) -> Orchard | None:
    """Return the orchard that a row is of; a person is of none."""
    if isinstance(row, Orchard):
        return row
    for owner in ("self", "tree", "block", "photo", "case", "recall", "station"):
        part = row if owner == "self" else getattr(row, owner, None)
        if isinstance(orchard := getattr(part, "orchard", None), Orchard):
            return orchard
    return None
