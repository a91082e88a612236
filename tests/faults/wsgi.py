"""The real book, served with places at which it can be made to die.

A request says in its header `X-Fault` what is to befall the server while it is being
answered: a deed, `@`, a place. Nothing of this is in the product: the places are put
around its functions here.

Deeds: `kill` (the process, by signal 9), `restart` (the database), `lock` (another
process writes for longer than anybody waits), `full` (no room on the disk), `readonly`
(for a while the database takes no change), `folder` (for a while photos cannot be
written), `throttle`, `crash` (a bug that nobody foresaw).
Places: `before` (nothing done yet), `sql:N` (at the Nth statement of the request),
`effect` (the record written, its receipt not), `receipt` (both written, nothing
committed), `commit` (committed, nothing answered), `answer` (the answer is ready),
`photo:N` (while the files of a photo are being written, before the Nth).
"""

from __future__ import annotations

import errno
import fcntl
import functools
import os
import signal
import sqlite3
import subprocess
import threading
import time
from contextvars import ContextVar
from dataclasses import replace
from pathlib import Path

import psycopg
from django.conf import settings
from django.core.files.storage import FileSystemStorage
from django.core.wsgi import get_wsgi_application
from django.db import OperationalError, connection, transaction
from django.db.backends.signals import connection_created
from django.urls import resolve

served = get_wsgi_application()

from orchard.records.models import Receipt  # noqa: E402
from orchard.science import guide  # noqa: E402
from orchard.services.inbox import receiving as inbox  # noqa: E402
from tests.faults.server import PHOTOS as FOLDER  # noqa: E402
from tests.mishaps import set_read_only  # noqa: E402

deed, place = ContextVar("deed", default=""), ContextVar("place", default="")
statements = ContextVar("statements", default=0)
written = ContextVar("written", default=0)
read_only = ContextVar("read_only", default=False)
LOCKED_FOR = 0.5
READ_ONLY_FOR = 0.4
AWAY_FOR = 0.4
READ_ONLY = Path(settings.DATA_DIR) / "read-only-until"
PATIENCE_MS = 150


def befall(where: str) -> None:
    """Do what the request asks for, if this is the place."""
    if not deed.get() or place.get() != where:
        return
    what = deed.get()
    deed.set("")
    if what == "kill":
        os.kill(os.getpid(), signal.SIGKILL)
        time.sleep(60)
    elif what == "restart":
        restart_the_database()
    elif what == "lock":
        lock_the_database()
    elif what == "full" and where.startswith("photo"):
        raise OSError(errno.ENOSPC, "No space left on device")
    elif what == "full":
        fill_the_disk()
    elif what == "readonly":
        take_no_change()
    elif what == "folder":
        take_the_folder_away()
    elif what == "crash":
        raise RuntimeError("a bug that nobody foresaw")


def fill_the_disk() -> None:
    """Fail as the database does when it finds no room."""
    full = (
        sqlite3.OperationalError("database or disk is full")
        if connection.vendor == "sqlite"
        else psycopg.errors.DiskFull("could not extend file")
    )
    if connection.vendor == "sqlite":
        full.sqlite_errorcode = sqlite3.SQLITE_FULL
    raise OperationalError(*full.args) from full


def take_no_change() -> None:
    """Let the database refuse changes: this request's at once, all others' soon."""
    READ_ONLY.write_text(str(time.time() + READ_ONLY_FOR))
    if connection.connection is None:
        # It is connected when it is needed.
        read_only.set(True)
    elif connection.vendor == "postgresql" and connection.in_atomic_block:
        connection.connection.execute("SET TRANSACTION READ ONLY")
    else:
        set_read_only(True)


def takes_no_change() -> bool:
    try:
        return time.time() < float(READ_ONLY.read_text() or 0)
    except FileNotFoundError:
        return False


def connected(**_signal) -> None:
    if read_only.get():
        set_read_only(True)


def take_the_folder_away() -> None:
    """Put a file where the photos' folder was, and soon the folder back again.

    The folder is a link, for a link can be changed in one step. What puts it back is a
    process of its own: it does so whatever happens to this server.
    """
    photos = Path(settings.MEDIA_ROOT)
    linked = 'ln -s "$2" "$1.$$" && mv -T "$1.$$" "$1"'
    subprocess.run(["sh", "-c", linked, "sh", photos, "/dev/null"], check=True)
    subprocess.Popen(
        ["sh", "-c", f"sleep {AWAY_FOR}; {linked}", "sh", photos, FOLDER],
        start_new_session=True,
    )


def restart_the_database() -> None:
    """Crash the database and start it again; SQLite, which is a file, is locked."""
    if connection.vendor == "sqlite":
        lock_the_database()
        return
    cluster = os.environ["FAULTS_CLUSTER"]
    script = settings.BASE_DIR / "tests" / "postgres.sh"
    with open(f"{cluster}.restarts", "ab") as turn:
        fcntl.flock(turn, fcntl.LOCK_EX)
        # In a session of its own: it comes back whatever happens to this server.
        subprocess.run(
            ["sh", str(script), "restart", cluster],
            check=True,
            start_new_session=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )


def lock_the_database() -> None:
    """Hold the write lock for longer than this request will wait for it."""
    if connection.vendor != "sqlite":
        raise OperationalError("canceling statement due to lock timeout")
    if connection.in_atomic_block:
        raise OperationalError("database is locked")
    connection.ensure_connection()
    connection.connection.execute(f"PRAGMA busy_timeout={PATIENCE_MS}")
    other = sqlite3.connect(
        settings.DATABASES["default"]["NAME"],
        isolation_level=None,
        check_same_thread=False,
        timeout=2,
    )
    other.execute("BEGIN IMMEDIATE")

    def let_go() -> None:
        time.sleep(LOCKED_FOR)
        other.rollback()
        other.close()

    threading.Thread(target=let_go, daemon=True).start()


def count_statements(execute, sql, params, many, context):
    statements.set(statements.get() + 1)
    befall(f"sql:{statements.get()}")
    return execute(sql, params, many, context)


def around(module, name, *, first="", last=""):
    """Put a place before a function, and one after it."""
    inner = getattr(module, name)

    @functools.wraps(inner)
    def outer(*args, **kwargs):
        befall(first)
        answer = inner(*args, **kwargs)
        befall(last)
        return answer

    setattr(module, name, outer)


def around_each_file() -> None:
    inner = FileSystemStorage._save

    def outer(self, name, content):
        written.set(written.get() + 1)
        befall(f"photo:{written.get()}")
        return inner(self, name, content)

    FileSystemStorage._save = outer


def plant(bug: str) -> None:
    """Put in a bug that the test has to find: a receipt outside the transaction."""
    if not bug:
        return
    write, earlier = inbox._receipt, inbox._earlier
    inbox._receipt = lambda *args, **kwargs: None

    def receipt_first(keep, admission, *submission, now):
        entry, orchard, by = admission.entry, admission.orchard, admission.by
        # A crash after it loses the record: the phone is told that it is here.
        write(entry, orchard, 0, by=by, now=now, offset=entry.offset(now), notices=())
        befall("effect")
        outcome = keep(admission, *submission, now=now)
        Receipt.objects.filter(key=entry.key).update(subject_id=outcome.subject_id)
        return outcome

    def receipt_last(keep, admission, *submission, now):
        entry, orchard, by = admission.entry, admission.orchard, admission.by
        # A crash before it leaves a record that nobody knows to be here.
        outcome = keep(admission, *submission, now=now)
        befall("effect")
        if outcome.answer is inbox.Answer.KEPT:
            about = {"offset": entry.offset(now), "notices": outcome.notices}
            write(entry, orchard, outcome.subject_id, by=by, now=now, **about)
        return outcome

    def without_page(entry, by):
        outcome = earlier(entry, by)
        return (
            replace(outcome, subject_id=outcome.subject_id or None) if outcome else None
        )

    planted = {"receipt first": receipt_first, "receipt last": receipt_last}[bug]
    inbox._earlier = without_page
    inbox._keep_look = functools.partial(planted, inbox._keep_look)
    inbox._keep_photo = functools.partial(planted, inbox._keep_photo)
    inbox._carry_out = functools.partial(planted, inbox._carry_out)


def application(environ, start_response):
    what, _at, where = environ.pop("HTTP_X_FAULT", "").partition("@")
    deed.set(what)
    place.set(where)
    statements.set(0)
    written.set(0)
    read_only.set(takes_no_change())
    if read_only.get():
        # A new connection is read-only from its first statement on.
        connection.close()
    sends_too_much = inbox._sends_too_much
    if what == "throttle":
        inbox._sends_too_much = lambda by, now: True
    connection.execute_wrappers[:] = [count_statements]
    try:
        answer = served(environ, start_response)
        befall("answer")
        return answer
    finally:
        if read_only.get() or what == "readonly":
            connection.close()
        inbox._sends_too_much = sends_too_much
        if what == "lock" and connection.vendor == "sqlite" and connection.connection:
            patience = settings.SQLITE_OPTIONS["timeout"] * 1000
            connection.connection.execute(f"PRAGMA busy_timeout={patience}")


around(inbox, "_receipt", first="effect", last="receipt")
plant(os.environ.get("FAULTS_PLANT", ""))
around(inbox, "_keep_look", first="before", last="commit")
around(inbox, "_keep_photo", first="before", last="commit")
around(inbox, "_carry_out", first="before", last="commit")
around_each_file()
connection_created.connect(connected)

# All is loaded before the server forks, so that a killed worker is back at once.
guide.load()
resolve("/inbox/")
transaction.get_connection().close()
