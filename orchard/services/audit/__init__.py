"""The ledger: every change written once, told in words, read page by page."""

from __future__ import annotations

from orchard.services.audit.ledger import plain, snapshot, write, write_many
from orchard.services.audit.pages import changes_page, people_in_ledger, subject_types

__all__ = [
    "changes_page",
    "people_in_ledger",
    "plain",
    "snapshot",
    "subject_types",
    "write",
    "write_many",
]
