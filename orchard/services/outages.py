"""Outages: the database or the disk does not do its part, and the program is sound."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
import tempfile
from contextlib import suppress
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from uuid import uuid4

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import DatabaseError, OperationalError, connection, transaction

from orchard.records.models import SignInTry


class Outage(StrEnum):
    """What is the matter, as far as it differs in what a person can do."""

    # Somebody has to make room.
    FULL = "full"
    # Somebody has to give leave to write: a read-only database, a folder of another.
    UNWRITABLE = "unwritable"
    # It goes by itself: locks, too many connections.
    BUSY = "busy"
    # The connection is lost: nobody knows whether the last change was still made.
    AWAY = "away"


# Extended codes of SQLite hold the primary one in their lowest byte.
PRIMARY = 0xFF
BY_SQLITE_CODE = {
    sqlite3.SQLITE_PERM: Outage.UNWRITABLE,
    sqlite3.SQLITE_BUSY: Outage.BUSY,
    sqlite3.SQLITE_LOCKED: Outage.BUSY,
    sqlite3.SQLITE_READONLY: Outage.UNWRITABLE,
    sqlite3.SQLITE_IOERR: Outage.AWAY,
    sqlite3.SQLITE_FULL: Outage.FULL,
    sqlite3.SQLITE_CANTOPEN: Outage.AWAY,
}
# PostgreSQL's codes, by what they begin with; the longest that fits counts.
BY_SQLSTATE = {
    "08": Outage.AWAY,
    "25006": Outage.UNWRITABLE,
    "40001": Outage.BUSY,
    "40P01": Outage.BUSY,
    "53": Outage.BUSY,
    "53100": Outage.FULL,
    "55P03": Outage.BUSY,
    "57": Outage.AWAY,
    "57014": Outage.BUSY,
    "58": Outage.AWAY,
}
BY_ERRNO = {
    errno.ENOSPC: Outage.FULL,
    errno.EDQUOT: Outage.FULL,
    errno.EROFS: Outage.UNWRITABLE,
    errno.EIO: Outage.UNWRITABLE,
    errno.EMFILE: Outage.BUSY,
    errno.ENFILE: Outage.BUSY,
}
# What a trial of writing is called.
PROBE = "probe"
# A disk with less room takes no photo of a phone any more, and soon no record.
LEAST_ROOM = 30 * 1024 * 1024
# These tell of an outage only where we write: elsewhere the program asks amiss.
FORBIDDEN = frozenset({errno.EACCES, errno.EPERM, errno.ENOTDIR})


def outage_in(fault: BaseException | None) -> Outage | None:
    """Say which outage a fault tells of, or None when the program is at fault."""
    if isinstance(fault, OSError):
        if fault.errno in FORBIDDEN:
            return Outage.UNWRITABLE if _is_where_we_write(fault) else None
        return BY_ERRNO.get(fault.errno or 0)
    if not isinstance(fault, DatabaseError):
        return None
    # Django gives its own class, and the driver's fault as the cause.
    code = getattr(fault.__cause__, "sqlite_errorcode", None)
    if code is not None:
        return BY_SQLITE_CODE.get(code & PRIMARY)
    state = getattr(fault.__cause__, "sqlstate", None)
    if state is not None:
        fitting = [start for start in BY_SQLSTATE if state.startswith(start)]
        return BY_SQLSTATE[max(fitting, key=len)] if fitting else None
    # A connection that cannot be made, or breaks, gives no code.
    if not isinstance(fault, OperationalError):
        return None
    is_there = connection.connection is not None and connection.is_usable()
    return None if is_there else Outage.AWAY


def check_can_write(now: datetime) -> None:
    """Write a row and a file, leave neither, and raise the fault that forbids it."""
    with transaction.atomic():
        SignInTry.objects.create(email_hash=PROBE, tried_at=now)
        transaction.set_rollback(True)
    name = f"{PROBE}/{uuid4().hex}"
    try:
        default_storage.save(name, ContentFile(b"x"))
        # A database asks its disk for room only now and then.
        if shutil.disk_usage(settings.MEDIA_ROOT).free < LEAST_ROOM:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    finally:
        with suppress(OSError):
            default_storage.delete(name)


def _is_where_we_write(fault: OSError) -> bool:
    """Tell whether a fault names a path in a folder that files are written to."""
    temporary = settings.FILE_UPLOAD_TEMP_DIR or tempfile.gettempdir()
    folders = [Path(settings.MEDIA_ROOT).resolve(), Path(temporary).resolve()]
    paths = [
        Path(name).resolve()
        for name in (fault.filename, fault.filename2)
        if isinstance(name, str)
    ]
    return any(path.is_relative_to(folder) for path in paths for folder in folders)
