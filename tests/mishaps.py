"""What befalls a server's disk, made real: nothing here plays the database's part."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.db import connection


def set_read_only(read_only: bool) -> None:
    """Let the database refuse every change on this connection, or take them again."""
    connection.ensure_connection()
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(f"PRAGMA query_only={int(read_only)}")
        else:
            way = "READ ONLY" if read_only else "READ WRITE"
            cursor.execute(f"SET SESSION CHARACTERISTICS AS TRANSACTION {way}")


@contextmanager
def read_only_database() -> Iterator[None]:
    set_read_only(True)
    try:
        yield
    finally:
        connection.close()


@contextmanager
def folder_away(folder: Path) -> Iterator[None]:
    """Put a file where a folder was: nobody can write into it, not even root."""
    aside = folder.with_name(f"{folder.name}.aside")
    folder.mkdir(parents=True, exist_ok=True)
    folder.rename(aside)
    folder.touch()
    try:
        yield
    finally:
        folder.unlink()
        aside.rename(folder)
