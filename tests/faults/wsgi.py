"""The real book, served with places at which it can be made to die.

A request says in its header `X-Fault` what is to befall the server while it is being
answered: a deed, `@`, a place. Nothing of this is in the product: the places are put
around its functions here.

Deeds: `kill` (the process, by signal 9), `restart` (the database), `lock` (another
process writes for longer than anybody waits), `full` (no room on the disk), `throttle`,
`crash` (a bug that nobody foresaw).
Places: `before` (nothing done yet), `sql:N` (at the Nth statement of the request),
`effect` (the record written, its receipt not), `receipt` (both written, nothing
committed), `commit` (committed, nothing answered), `answer` (the answer is ready),
`photo` (while the files of a photo are being written).
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

from django.conf import settings
from django.core.files.storage import FileSystemStorage
from django.core.wsgi import get_wsgi_application
from django.db import OperationalError, connection, transaction
from django.urls import resolve

served = get_wsgi_application()

from orchard.records.models import Receipt  # noqa: E402
from orchard.science import guide  # noqa: E402
from orchard.services import inbox  # noqa: E402

deed, place = ContextVar("deed", default=""), ContextVar("place", default="")
statements = ContextVar("statements", default=0)
LOCKED_FOR = 0.5
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
    elif what == "full" and where == "photo":
        raise OSError(errno.ENOSPC, "No space left on device")
    elif what == "full":
        raise OperationalError("database or disk is full")
    elif what == "crash":
        raise RuntimeError("a bug that nobody foresaw")


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


def plant(bug: str) -> None:
    """Put in a bug that the test has to find: a receipt outside the transaction."""
    if not bug:
        return
    write, earlier = inbox._receipt, inbox._earlier
    inbox._receipt = lambda *args, **kwargs: None

    def receipt_first(keep, admission, *submission, now):
        entry, orchard, by = admission.entry, admission.orchard, admission.by
        # A crash after it loses the record: the phone is told that it is here.
        write(entry, orchard, 0, by=by, now=now, offset=entry.offset(now))
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
            subject, offset = outcome.subject_id, entry.offset(now)
            write(entry, orchard, subject, by=by, now=now, offset=offset)
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


def application(environ, start_response):
    what, _at, where = environ.pop("HTTP_X_FAULT", "").partition("@")
    deed.set(what)
    place.set(where)
    statements.set(0)
    most = inbox.MOST_IN_A_MINUTE
    if what == "throttle":
        inbox.MOST_IN_A_MINUTE = -1
    connection.execute_wrappers[:] = [count_statements]
    try:
        answer = served(environ, start_response)
        befall("answer")
        return answer
    finally:
        inbox.MOST_IN_A_MINUTE = most
        if what == "lock" and connection.vendor == "sqlite" and connection.connection:
            patience = settings.SQLITE_OPTIONS["timeout"] * 1000
            connection.connection.execute(f"PRAGMA busy_timeout={patience}")


around(inbox, "_receipt", first="effect", last="receipt")
plant(os.environ.get("FAULTS_PLANT", ""))
around(inbox, "_keep_look", first="before", last="commit")
around(inbox, "_keep_photo", first="before", last="commit")
around(FileSystemStorage, "_save", last="photo")

# All is loaded before the server forks, so that a killed worker is back at once.
guide.load()
resolve("/inbox/")
transaction.get_connection().close()
