"""A database that was begun before the tables were written down anew, in 0001."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error
from django.db import connections
from django.db.migrations.recorder import MigrationRecorder

# What stood in the place of 0001 and 0002, from first to last.
FIRST, LAST = "0001_initial", "0014_one_orchard"


def check_begun_early(
    *, databases: Sequence[str] | None = None, **_options: Any
) -> list[CheckMessage]:
    """Refuse a database that stopped half way through the migrations of before."""
    found: list[CheckMessage] = []
    for name in databases or ():
        applied = {
            migration
            for app, migration in MigrationRecorder(
                connections[name]
            ).applied_migrations()
            if app == "records"
        }
        if FIRST in applied and LAST not in applied:
            found.append(
                Error(
                    "This database was begun by an early edition of the book, and its"
                    " tables are not what this edition goes on from.",
                    hint=(
                        "A demonstration: remove its database and make it anew. A book"
                        f" in use: run `manage.py migrate` of the edition that ends"
                        f" with {LAST} first, then this one."
                    ),
                    id="records.E001",
                )
            )
    return found
