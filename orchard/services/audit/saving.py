"""Saving a row of the book: checked whole, and written in the ledger with it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, TypeVar

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import IntegrityError, models, transaction

from orchard.records.models import Orchard, Tree, User
from orchard.services.audit.ledger import snapshot, write
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
    # That a row it points to is there, the database promises without being asked.
    links = {field.name for field in row._meta.concrete_fields if field.is_relation}
    try:
        row.clean_fields(exclude=links)
        row.clean()
        try:
            with transaction.atomic():
                if row._state.adding:
                    row.save(force_insert=True)
                else:
                    row.save(update_fields=list(fields) or None)
        except IntegrityError:
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
) -> Row:
    """Check a row whole, save it and tell of it in the ledger; return it.

    The line tells the given fields (all without names) as they are now, unless `after`
    says it otherwise. The orchard, the tree and whether it is private are the row's own
    where they are not given.
    """
    fields = list(fields)
    with transaction.atomic():
        save_row(row, fields)
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


def _tree_of(row: models.Model) -> Tree | None:
    return row if isinstance(row, Tree) else getattr(row, "tree", None)


def _orchard_of(row: models.Model) -> Orchard | None:
    """Return the orchard that a row is of; a person is of none."""
    if isinstance(row, Orchard):
        return row
    for owner in ("self", "tree", "block"):
        part = row if owner == "self" else getattr(row, owner, None)
        if isinstance(orchard := getattr(part, "orchard", None), Orchard):
            return orchard
    return None
