"""Making a backup, safe while the server runs."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import subprocess
from contextlib import closing, suppress
from pathlib import Path

from django.conf import settings
from django.db import connection, transaction
from django.utils.translation import gettext as _

from orchard.records.models import Orchard
from orchard.services.backups.contents import (
    Contents,
    contents_of_postgresql,
    contents_of_sqlite,
)
from orchard.services.backups.manifest import (
    DATABASES,
    KEY,
    PHOTOS,
    Manifest,
    sha256_of,
)
from orchard.services.backups.postgresql import surroundings
from orchard.services.errors import Refused

STAMP = re.compile(r"\d{4}-\d{2}-\d{2}T\d{6}Z")
UNFINISHED = ".part"


def back_up(target: Path, *, stamp: str, most: int) -> Manifest:
    """Copy database, photos and key into `target`/`stamp`, and keep `most` backups.

    Backups beyond those, and what one that was killed has left, go only after this one
    stands. Photos lie beside the backups, once for all of them.

    Raises:
        Refused (nothing_there): there is no database, or it has no orchard.
        Refused (not_copied): the copy does not hold what the database does.
    """
    _check_is_there()
    os.umask(0o077)
    part = target / f"{stamp}{UNFINISHED}"
    part.mkdir(parents=True)
    database = part / DATABASES[connection.vendor]
    copy = _copy_sqlite if connection.vendor == "sqlite" else _dump_postgresql
    tables = copy(database)
    # Photos come after the database: each row then has its file, a newer file does no
    # harm.
    photos = _copy_photos(target / PHOTOS)
    (part / KEY).write_text(settings.SECRET_KEY, encoding="utf-8")
    manifest = Manifest(connection.vendor, sha256_of(database), tables, photos)
    manifest.write(part)
    os.sync()
    part.rename(target / stamp)
    _clear_away(target, most=most)
    return manifest


def _check_is_there() -> None:
    """Refuse what would make an empty backup."""
    place = connection.settings_dict["NAME"]
    # Asking for a SQLite database makes one.
    is_there = connection.vendor != "sqlite" or Path(place).is_file()
    if is_there:
        table = Orchard._meta.db_table
        is_there = table in connection.introspection.table_names()
    if not is_there or not Orchard.objects.exists():
        raise Refused(
            _(
                "There is no orchard in the database %(place)s: nothing was backed up. "
                "Check DATA_DIR and DATABASE_URL."
            )
            % {"place": place},
            code="nothing_there",
        )


def _copy_sqlite(copy: Path) -> Contents:
    place = connection.settings_dict["NAME"]
    with (
        closing(sqlite3.connect(place)) as source,
        closing(sqlite3.connect(copy)) as to,
    ):
        source.backup(to)
        # One file, without another beside it.
        to.execute("PRAGMA journal_mode=DELETE")
        [(state,)] = to.execute("PRAGMA integrity_check(1)").fetchall()
        if state != "ok":
            raise Refused(
                _("The database is damaged: %(state)s") % {"state": state},
                code="not_copied",
            )
        return contents_of_sqlite(to)


def _dump_postgresql(copy: Path) -> Contents:
    """Dump the database as it is at one moment, and read what it held then."""
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            cursor.execute("SELECT pg_export_snapshot()")
            [snapshot] = cursor.fetchone()
        _dump(copy, snapshot)
        return contents_of_postgresql()


def _dump(copy: Path, snapshot: str) -> None:
    command = ["pg_dump", "--format=custom", f"--snapshot={snapshot}"]
    command += ["--no-password", "--file", str(copy)]
    ran = subprocess.run(  # noqa: S603
        command, env=surroundings(), check=False, capture_output=True, text=True
    )
    if ran.returncode:
        raise Refused(
            _("pg_dump failed: %(said)s") % {"said": ran.stderr.strip()},
            code="not_copied",
        )


def _copy_photos(to: Path) -> dict[str, int]:
    """Copy photo files that are not there yet; return all files there are, by path.

    One that comes or goes meanwhile is none of the database's, which was copied before:
    it may be cut, or missing.
    """
    store = Path(settings.MEDIA_ROOT)
    to.mkdir(parents=True, exist_ok=True)
    found: dict[str, int] = {}
    for file in sorted(store.rglob("*")):
        if not file.is_file():
            continue
        path = str(file.relative_to(store))
        with suppress(FileNotFoundError):
            found[path] = _copy_photo(file, to / path)
    return found


def _copy_photo(file: Path, copy: Path) -> int:
    """Copy a photo file unless it was copied before; return the size of the copy."""
    if copy.is_file() and copy.stat().st_size == file.stat().st_size:
        return copy.stat().st_size
    copy.parent.mkdir(parents=True, exist_ok=True)
    unfinished = copy.with_name(f"{copy.name}{UNFINISHED}")
    shutil.copyfile(file, unfinished)
    unfinished.rename(copy)
    return copy.stat().st_size


def _clear_away(target: Path, *, most: int) -> None:
    """Remove the oldest backups, and what was never finished."""
    whole = sorted(path for path in target.iterdir() if STAMP.fullmatch(path.name))
    over = whole[:-most] if most else []
    killed = [
        path
        for path in target.iterdir()
        if path.name.endswith(UNFINISHED)
        and STAMP.fullmatch(path.name.removesuffix(UNFINISHED))
    ]
    for folder in [*over, *killed]:
        shutil.rmtree(folder)
