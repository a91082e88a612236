"""Tables for one more database: as the tests' own has them, which was migrated once.

To migrate takes many seconds and to copy one. Outside of a run of tests there is no
database to copy, and the tables come by migrating.
"""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

import psycopg

ROOT = Path(__file__).resolve().parents[1]
POSTGRES = str(ROOT / "tests" / "postgres.sh")

# The address of the database that tests run on, once it is there.
pattern = ""


def address_of(connection) -> str:
    """Return the address of the database that Django is connected to."""
    one = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{one['NAME']}"
    who = ":".join(
        quote(part, safe="") for part in (one["USER"], one["PASSWORD"]) if part
    )
    place = quote(one["HOST"], safe="")
    port = one["PORT"] or 5432
    return f"postgres://{who}@{place}:{port}/{one['NAME']}"


def set_up(address: str) -> None:
    """Give the empty database at an address all tables, and no row of an orchard."""
    if pattern.split(":")[0] != address.split(":")[0]:
        migrate(address)
        return
    if address.startswith("sqlite"):
        copy_sqlite(path_of(pattern), path_of(address))
    else:
        subprocess.run(["sh", POSTGRES, "copy", pattern, address], check=True)
    assert not orchards_in(address), "A test has left an orchard in the database."


def path_of(address: str) -> str:
    return address.removeprefix("sqlite:///")


def copy_sqlite(source: str, target: str) -> None:
    Path(target).parent.mkdir(parents=True, exist_ok=True)
    with closing(sqlite3.connect(source)) as base:
        base.execute("VACUUM INTO ?", [target])


def orchards_in(address: str) -> int:
    query = "SELECT count(*) FROM records_orchard"
    if address.startswith("sqlite"):
        with closing(sqlite3.connect(path_of(address))) as base:
            return base.execute(query).fetchone()[0]
    with psycopg.connect(address) as base:
        return base.execute(query).fetchone()[0]


def migrate(address: str) -> None:
    manage({"DATABASE_URL": address}, "migrate", "--skip-checks", "--verbosity=0")


def manage(surroundings: dict[str, str], *words: str) -> None:
    subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env={
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "tests.faults.settings",
            **surroundings,
        },
        check=True,
        stdout=subprocess.DEVNULL,
    )
