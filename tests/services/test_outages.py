"""Which faults are an outage, asked of the databases themselves where they can be."""

from __future__ import annotations

import errno
import socket
import sqlite3
from contextlib import closing

import psycopg
import pytest
from django.db import (
    OperationalError,
    ProgrammingError,
    close_old_connections,
    connection,
)
from django.db.utils import DatabaseError, InternalError

from orchard.services.outages import Outage, outage_in
from tests.conftest import make_orchard
from tests.mishaps import read_only_database


def fault_of(work) -> BaseException:
    with pytest.raises((DatabaseError, OSError)) as caught:
        work()
    return caught.value


@pytest.mark.django_db(transaction=True)
def test_a_read_only_database_is_an_outage():
    with read_only_database():
        assert outage_in(fault_of(make_orchard)) is Outage.UNWRITABLE
    make_orchard()


@pytest.mark.django_db(transaction=True)
def test_a_table_that_is_missing_is_a_fault_of_the_program():
    def ask() -> None:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1 FROM records_nothing")

    assert outage_in(fault_of(ask)) is None


def sqlite_fault(tmp_path, work) -> OperationalError:
    """Let a database file of its own fail, and give it Django's class."""
    with closing(sqlite3.connect(tmp_path / "own.sqlite3")) as base:
        base.execute("CREATE TABLE kept (text)")
        try:
            work(base)
        except sqlite3.Error as fault:
            told = OperationalError(*fault.args)
            told.__cause__ = fault
            return told
    raise AssertionError("it did not fail")


def test_sqlite_says_when_its_disk_is_full(tmp_path):
    def fill(base) -> None:
        base.execute("PRAGMA max_page_count=3")
        base.execute("INSERT INTO kept VALUES (zeroblob(100000))")

    assert outage_in(sqlite_fault(tmp_path, fill)) is Outage.FULL


def test_sqlite_says_when_its_file_cannot_be_opened(tmp_path):
    def lose(base) -> None:
        sqlite3.connect(tmp_path / "nowhere" / "own.sqlite3")

    assert outage_in(sqlite_fault(tmp_path, lose)) is Outage.AWAY


def test_sqlite_says_when_it_is_locked(tmp_path):
    def lock(base) -> None:
        base.execute("BEGIN IMMEDIATE")
        path = tmp_path / "own.sqlite3"
        with closing(sqlite3.connect(path, timeout=0)) as other:
            other.execute("BEGIN IMMEDIATE")

    assert outage_in(sqlite_fault(tmp_path, lock)) is Outage.BUSY


class Coded(Exception):
    def __init__(self, sqlstate: str | None) -> None:
        self.sqlstate = sqlstate


@pytest.mark.parametrize(
    ("kind", "sqlstate", "outage"),
    [
        (InternalError, "25006", Outage.UNWRITABLE),
        (OperationalError, "53100", Outage.FULL),
        (OperationalError, "53300", Outage.BUSY),
        (OperationalError, "40P01", Outage.BUSY),
        (OperationalError, "55P03", Outage.BUSY),
        (OperationalError, "57014", Outage.BUSY),
        (OperationalError, "57P01", Outage.AWAY),
        (OperationalError, "08006", Outage.AWAY),
        (ProgrammingError, "42P01", None),
        (InternalError, "25P02", None),
        (DatabaseError, None, None),
    ],
)
def test_postgresql_says_what_it_is_by_its_code(kind, sqlstate, outage):
    fault = kind("as it says")
    fault.__cause__ = Coded(sqlstate)
    assert outage_in(fault) is outage


@pytest.mark.django_db(transaction=True)
def test_a_fault_without_a_code_is_an_outage_only_without_a_connection():
    fault = OperationalError("as it says")
    fault.__cause__ = Coded(None)
    connection.ensure_connection()
    assert outage_in(fault) is None
    connection.close()
    assert outage_in(fault) is Outage.AWAY


@pytest.mark.django_db(transaction=True)
def test_a_connection_that_breaks_is_an_outage():
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has no connection that could break.")

    def ask() -> None:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")

    ask()
    with socket.fromfd(
        connection.connection.fileno(), socket.AF_INET, socket.SOCK_STREAM
    ) as line:
        line.shutdown(socket.SHUT_RDWR)
    try:
        assert outage_in(fault_of(ask)) is Outage.AWAY
    finally:
        connection.close()


@pytest.mark.django_db(transaction=True)
def test_the_next_request_notices_that_a_server_was_restarted():
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has no connection that could break.")

    def ask() -> None:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")

    ask()
    place = connection.get_connection_params()
    with psycopg.connect(
        host=place["host"],
        port=place["port"],
        user=place["user"],
        dbname=place["dbname"],
        autocommit=True,
    ) as other:
        number = connection.connection.info.backend_pid
        other.execute("SELECT pg_terminate_backend(%s, 5000)", [number])
    # As at the start of every request.
    close_old_connections()
    ask()


@pytest.mark.parametrize("number", [errno.EACCES, errno.EPERM, errno.ENOTDIR])
def test_what_is_forbidden_is_an_outage_only_where_we_write(number, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"
    settings.FILE_UPLOAD_TEMP_DIR = tmp_path / "sent"
    photo, sent = tmp_path / "photos" / "ab" / "small.jpg", tmp_path / "sent" / "x"
    for path in (photo, sent, tmp_path / "photos"):
        assert outage_in(OSError(number, "as it says", str(path))) is Outage.UNWRITABLE
    moved = OSError(number, "as it says", "/etc/passwd", None, str(photo))
    assert outage_in(moved) is Outage.UNWRITABLE
    for path in (tmp_path / "photos.old", tmp_path / "photos" / ".." / "page.html"):
        assert outage_in(OSError(number, "as it says", str(path))) is None
    # A socket names no path.
    assert outage_in(OSError(number, "as it says")) is None


@pytest.mark.parametrize(
    ("number", "outage"),
    [
        (errno.ENOSPC, Outage.FULL),
        (errno.EROFS, Outage.UNWRITABLE),
        (errno.EMFILE, Outage.BUSY),
        (errno.ENOENT, None),
        (errno.ECONNRESET, None),
    ],
)
def test_the_system_says_what_it_is_by_its_number(number, outage):
    assert outage_in(OSError(number, "as it says")) is outage


def test_no_fault_and_any_other_is_none():
    assert outage_in(None) is None
    assert outage_in(OSError("cannot identify image file")) is None
    assert outage_in(ValueError("database is locked")) is None
