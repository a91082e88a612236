"""What a database holds, table by table: how many rows, and a hash of them all."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db import connection

# Rows come in any order; what is added up does not mind.
MODULUS = 2**256


@dataclass(frozen=True, slots=True)
class TableContent:
    """How many rows a table has, and the sum of their hashes."""

    rows: int
    sha256: str

    @classmethod
    def read(cls, rows: Iterable[bytes]) -> TableContent:
        count = total = 0
        for row in rows:
            count += 1
            total += int.from_bytes(hashlib.sha256(row).digest())
        return cls(count, f"{total % MODULUS:064x}")


Contents = Mapping[str, TableContent]


def contents_of_sqlite(base: sqlite3.Connection) -> Contents:
    """Read what a SQLite database holds."""
    tables = base.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table'"
        " AND name NOT LIKE 'sqlite_%'"
    ).fetchall()
    return {
        table: TableContent.read(
            repr(row).encode(errors="surrogateescape")
            for row in base.execute(f'SELECT * FROM "{table}"')  # noqa: S608
        )
        for (table,) in tables
    }


def contents_of_postgresql() -> Contents:
    """Read what the database holds, inside the caller's transaction."""
    found = {}
    for table in sorted(connection.introspection.table_names()):
        name = connection.ops.quote_name(table)
        with connection.cursor() as cursor:
            driver: Any = cursor.cursor
            with driver.copy(f"COPY {name} TO STDOUT") as rows:
                found[table] = TableContent.read(_lines(rows))
    return found


def _lines(pieces: Iterable[Any]) -> Iterable[bytes]:
    """Cut what a server sends into rows: a line end within a row is written as \\n."""
    rest = b""
    for piece in pieces:
        *whole, rest = (rest + bytes(piece)).split(b"\n")
        yield from whole
    if rest:
        yield rest


def differences(there: Contents, here: Contents) -> list[str]:
    """Name the tables that differ, and how."""
    lacking = TableContent(0, f"{0:064x}")
    return [
        f"{table}: {mine.rows} rows, {yours.rows} in the backup"
        if mine.rows != yours.rows
        else f"{table}: {mine.rows} rows, other content than in the backup"
        for table in sorted({*there, *here})
        if (mine := here.get(table, lacking)) != (yours := there.get(table, lacking))
    ]
