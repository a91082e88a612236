"""The ledger: every change written once, told in words, read page by page."""

from __future__ import annotations

from orchard.services.audit.ledger import (
    insert,
    line,
    plain,
    snapshot,
    write,
    write_lines,
    write_many,
    written_down_by,
    written_together,
)
from orchard.services.audit.pages import (
    AuditLine,
    LedgerFilter,
    all_changes,
    changes_page,
    people_in_ledger,
    subject_types,
)
from orchard.services.audit.saving import save, save_all, save_new_rows, save_row
from orchard.services.audit.verbs import Verb

__all__ = [
    "AuditLine",
    "LedgerFilter",
    "Verb",
    "all_changes",
    "changes_page",
    "insert",
    "people_in_ledger",
    "line",
    "plain",
    "save",
    "save_all",
    "save_new_rows",
    "save_row",
    "snapshot",
    "subject_types",
    "write",
    "written_down_by",
    "write_lines",
    "write_many",
    "written_together",
]
