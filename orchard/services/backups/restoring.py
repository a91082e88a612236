"""Restoring a backup into an empty place, and proving that it is what it was."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from django.conf import settings
from django.db import connection, transaction
from django.utils.translation import gettext as _

from orchard.services.backups.contents import (
    contents_of_postgresql,
    contents_of_sqlite,
    differences,
)
from orchard.services.backups.manifest import DATABASES, PHOTOS, Manifest, sha256_of
from orchard.services.backups.postgresql import surroundings
from orchard.services.errors import Refused

UNFINISHED = ".part"
# Beside a SQLite database: what stands in them would be written into a restored one.
BESIDE = ("", "-wal", "-shm", "-journal")
MOST_NAMED = 10


def restore(source: Path) -> Manifest:
    """Restore a backup where there is nothing; compare every table and file with it.

    All that is written belongs to the owner of the place, and photos to the group of
    their folder, so that the service and its web server can read them.

    Raises:
        Refused (no_backup): it is not whole, or of another kind of database.
        Refused (not_empty): there is data already; nothing was changed.
        Refused (not_the_same): what was restored is not what was backed up.
    """
    source = source.resolve()
    manifest = Manifest.read(source)
    dump = source / DATABASES.get(manifest.vendor, "")
    _check_is_whole(source, manifest, dump)
    _check_is_empty()
    photos = _copy_photos(source.parent / PHOTOS, manifest)
    if connection.vendor == "sqlite":
        _restore_sqlite(dump, manifest)
    else:
        _restore_postgresql(dump, manifest)
    _settle_photos(photos)
    return manifest


def _check_is_whole(source: Path, manifest: Manifest, dump: Path) -> None:
    if manifest.vendor != connection.vendor:
        raise Refused(
            _("The backup is of %(theirs)s, and DATABASE_URL names %(ours)s.")
            % {"theirs": manifest.vendor, "ours": connection.vendor},
            code="no_backup",
        )
    faults = []
    if not dump.is_file() or sha256_of(dump) != manifest.database_sha256:
        faults.append(dump.name)
    store = source.parent / PHOTOS
    for path, size in manifest.photos.items():
        file = store / path
        # One that was being written then is longer by now.
        if not file.is_file() or file.stat().st_size < size:
            faults.append(f"{PHOTOS}/{path}")
    if faults:
        raise Refused(
            _("The backup is damaged; missing or changed: %(files)s.")
            % {"files": _some(faults)},
            code="no_backup",
        )


def _check_is_empty() -> None:
    there = []
    if connection.vendor == "sqlite":
        place = str(connection.settings_dict["NAME"])
        there = [f"{place}{end}" for end in BESIDE if Path(f"{place}{end}").exists()]
    elif connection.introspection.table_names():
        there = [_("tables in the database")]
    store = Path(settings.MEDIA_ROOT)
    if store.exists() and any(store.iterdir()):
        there.append(str(store))
    if there:
        raise Refused(
            _("There is data already: %(there)s. Move it away; nothing was changed.")
            % {"there": ", ".join(there)},
            code="not_empty",
        )


def _copy_photos(store: Path, manifest: Manifest) -> Path:
    """Copy the photos beside their place, and return where they are."""
    place = Path(settings.MEDIA_ROOT)
    part = place.with_name(f"{place.name}{UNFINISHED}")
    if part.exists():
        shutil.rmtree(part)
    part.mkdir(parents=True)
    for path in manifest.photos:
        copy = part / path
        copy.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(store / path, copy)
    return part


def _restore_sqlite(dump: Path, manifest: Manifest) -> None:
    place = Path(connection.settings_dict["NAME"])
    place.parent.mkdir(parents=True, exist_ok=True)
    part = place.with_name(f"{place.name}{UNFINISHED}")
    shutil.copyfile(dump, part)
    with closing(sqlite3.connect(part)) as base:
        [(state,)] = base.execute("PRAGMA integrity_check(1)").fetchall()
        torn = base.execute("PRAGMA foreign_key_check").fetchall()
        faults = [state] if state != "ok" else [str(row) for row in torn]
        faults = faults or differences(manifest.tables, contents_of_sqlite(base))
    _refuse_difference(faults)
    part.chmod(0o600)
    _give_to_owner_of(place.parent, part)
    part.rename(place)


def _restore_postgresql(dump: Path, manifest: Manifest) -> None:
    command = ["pg_restore", "--exit-on-error", "--single-transaction", "--no-owner"]
    command += ["--no-privileges", "--no-password", "--dbname"]
    command += [str(connection.settings_dict["NAME"]), str(dump)]
    ran = subprocess.run(  # noqa: S603
        command, env=surroundings(), check=False, capture_output=True, text=True
    )
    if ran.returncode:
        raise Refused(
            _("pg_restore failed: %(said)s") % {"said": ran.stderr.strip()},
            code="not_the_same",
        )
    with transaction.atomic():
        _refuse_difference(differences(manifest.tables, contents_of_postgresql()))


def _refuse_difference(faults: list[str]) -> None:
    if faults:
        raise Refused(
            _("What was restored is not what was backed up: %(faults)s.")
            % {"faults": _some(faults)},
            code="not_the_same",
        )


def _settle_photos(part: Path) -> None:
    """Put the photos into their place, readable as that place is."""
    place = Path(settings.MEDIA_ROOT)
    mode = 0o755
    if place.exists():
        mode = place.stat().st_mode & 0o7777
        _give_to_owner_of(place, *_within(part))
        place.rmdir()
    else:
        _give_to_owner_of(place.parent, *_within(part))
    # Only now: another owner takes the marks of a folder away.
    for path in _within(part):
        path.chmod(mode if path.is_dir() else 0o644)
    part.rename(place)


def _within(folder: Path) -> Iterator[Path]:
    yield folder
    yield from folder.rglob("*")


def _give_to_owner_of(place: Path, *paths: Path) -> None:
    """Give files to who owns a place; who is not root owns what they write anyway."""
    if os.geteuid() != 0:
        return
    owner = place.stat()
    for path in paths:
        os.chown(path, owner.st_uid, owner.st_gid)


def _some(faults: list[str]) -> str:
    named = ", ".join(faults[:MOST_NAMED])
    return f"{named} …" if faults[MOST_NAMED:] else named
