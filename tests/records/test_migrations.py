"""Migrations go forward, back and forward again, on a database of their own.

What has landed never changes: it went back when it was new. So the newest are tried
each time, and with ORCHARD_LONG all of them, before a release.
"""

from __future__ import annotations

import os
import subprocess
import sys
import uuid
from pathlib import Path

import psycopg
import pytest
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from orchard.records import begun_early
from tests import tables
from tests.landed_migrations import hashes, landed

ROOT = Path(__file__).resolve().parent.parent.parent
NEWEST = 8


@pytest.fixture
def spare_database(tmp_path):
    """Yield the address of an empty database beside the tests' own."""
    if connection.vendor == "sqlite":
        yield f"sqlite:///{tmp_path}/spare.sqlite3"
        return
    name = f"spare_{uuid.uuid4().hex}"
    server = tables.address_of(connection).rpartition("/")[0]
    with psycopg.connect(f"{server}/postgres", autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {name}")
        try:
            yield f"{server}/{name}"
        finally:
            admin.execute(f"DROP DATABASE {name} WITH (FORCE)")


def manage(database: str, *arguments: str) -> str:
    ran = subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env={**os.environ, "DATABASE_URL": database, "SECRET_KEY": "spare"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout


def test_migrations_go_back_and_come_again(spare_database):
    # All of them went forward already, for the tests' own database.
    tables.set_up(spare_database)
    names = [name.removesuffix(".py") for name in sorted(hashes())]
    tried = names if os.environ.get("ORCHARD_LONG") else names[-NEWEST:]
    before = names[-len(tried) - 1] if len(tried) < len(names) else "zero"
    back = manage(spare_database, "migrate", "records", before, "--skip-checks")
    again = manage(spare_database, "migrate", "--skip-checks")
    for name in tried:
        assert f"Unapplying records.{name}... OK" in back
        assert f"Applying records.{name}... OK" in again


def test_a_migration_that_has_landed_is_never_edited():
    listed, there = landed(), hashes()
    edited = [name for name, digest in listed.items() if there.get(name) != digest]
    assert not edited, (
        f"{edited}: databases have run these as they were and do not run them again."
        " Put them back (git checkout) and write a new migration for the change."
    )
    new = sorted(there.keys() - listed.keys())
    assert not new, f"{new}: `python -m tests.landed_migrations` adds them to the list."


@pytest.mark.django_db
def test_a_database_left_half_way_by_an_early_edition_is_refused_in_words():
    assert begun_early.check_begun_early(databases=["default"]) == []
    recorder = MigrationRecorder(connection)
    recorder.record_applied("records", begun_early.FIRST)
    recorder.record_unapplied("records", begun_early.LAST)
    [error] = begun_early.check_begun_early(databases=["default"])
    assert "early edition" in error.msg and begun_early.LAST in error.hint
