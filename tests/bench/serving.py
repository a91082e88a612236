"""Servers of one process each, asked over HTTP: the pages as they are served."""

from __future__ import annotations

import os
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Self

import psycopg
from django.conf import settings
from django.db import connection

from tests.bench.__main__ import ROOT, free_port


def copy() -> str:
    """Copy the database as it stands; return the address of the copy."""
    name = str(connection.settings_dict["NAME"])
    address = os.environ["DATABASE_URL"]
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("VACUUM INTO %s", [f"{name}.short"])
            return f"sqlite:///{name}.short"
    # A database is copied only while nobody is in it.
    connection.close()
    place, _, _ = address.rpartition("/")
    with psycopg.connect(f"{place}/template1", autocommit=True) as other:
        other.execute(f"CREATE DATABASE bench_short TEMPLATE {name}")
    return f"{place}/bench_short"


class Server:
    """One process that serves the book from one database."""

    def __init__(self, database: str, session: str) -> None:
        self.database = database or os.environ["DATABASE_URL"]
        self.session = session
        self.port = free_port()

    def __enter__(self) -> Self:
        self.process = subprocess.Popen(  # noqa: S603
            [
                *(str(Path(sys.executable).parent / "gunicorn"), "orchard.wsgi"),
                *("--bind", f"127.0.0.1:{self.port}", "--workers", "1"),
                *("--threads", "4", "--no-control-socket", "--log-level", "error"),
            ],
            cwd=settings.DATA_DIR,
            env={
                **os.environ,
                "DATABASE_URL": self.database,
                "ALLOWED_HOSTS": "127.0.0.1",
                "PYTHONPATH": str(ROOT),
            },
        )
        for _ in range(200):
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{self.port}/up/")  # noqa: S310
                return self
            except OSError:
                time.sleep(0.1)
        raise RuntimeError("The server does not answer.")

    def __exit__(self, *_raised: object) -> None:
        self.process.terminate()
        self.process.wait()

    def page(self, address: str) -> Callable[[], None]:
        """Return what asks for a page and reads it to its end."""
        request = urllib.request.Request(  # noqa: S310
            f"http://127.0.0.1:{self.port}{address}",
            headers={"Cookie": f"sessionid={self.session}"},
        )

        def get() -> None:
            with urllib.request.urlopen(request) as answer:  # noqa: S310
                assert answer.url == request.full_url, "not signed in"
                answer.read()

        return get

    def memory_after(self, *, turns: int) -> float:
        """Ask for many pages, and return the most memory the worker has had, MB."""
        for turn in range(turns):
            for path in (
                "board/",
                f"trees/T-{turn}/",
                f"trees/T-{turn}/inspections/new/",
            ):
                self.page(f"/bench/{path}")()
        master = self.process.pid
        children = Path(f"/proc/{master}/task/{master}/children").read_text()
        status = Path(f"/proc/{children.split()[0]}/status").read_text()
        peak = next(line for line in status.splitlines() if line.startswith("VmHWM"))
        return int(peak.split()[1]) / 1024
