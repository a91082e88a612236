"""Taking a sheet in: all of it, or nothing."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import IntegrityError, transaction

from orchard.records.models import Orchard
from orchard.services.errors import Refused
from orchard.services.imports.sheets.rows import SheetPreview

BATCH = 500


@contextmanager
def whole_or_nothing(orchard: Orchard, *, overtaken: str) -> Iterator[None]:
    """Let an import in alone, in one transaction.

    Raises:
        Refused (not_imported): the database refuses a row, since somebody else was
            quicker; `overtaken` says so to the person.
    """
    try:
        with transaction.atomic():
            Orchard.objects.select_for_update(no_key=True).get(pk=orchard.pk)
            yield
    except IntegrityError as error:
        raise Refused(overtaken, code="not_imported") from error


def require_complete(preview: SheetPreview[Any, Any, Any], *, refusal: str) -> None:
    """Refuse a file of which anything is open or any row is refused.

    `refusal` may name how many rows are refused (`count`) of how many (`all`), the
    `row` that is the first of them, and its reason (`why`).

    Raises:
        Refused (not_imported): the file cannot be taken in as it is.
    """
    if preview.problems:
        raise Refused(preview.problems[0], code="not_imported")
    first = next((row for row in preview.rows if row.reasons), None)
    if first is not None:
        details = {
            "count": preview.refused,
            "all": len(preview.rows),
            "row": first.number,
            "why": first.reasons[0],
        }
        raise Refused(refusal % details, code="not_imported")
