"""A real server on a real database, in a folder of its own, that may be killed."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import uuid
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from functools import cache, partial
from pathlib import Path
from typing import Any
from urllib.parse import quote

import psycopg

from tests import tables
from tests.settings import DATA_DIR
from tests.tables import POSTGRES, ROOT

# A crash must not take back what was said to be committed; the disk itself is trusted.
# No port of its own: while it is down, another connection might be given that port.
DURABLE = "-c synchronous_commit=on -c max_connections=60 -c listen_addresses="
# Where photos really lie.
PHOTOS = "photos.kept"
# Below those that systems hand out to connections, for the same reason.
PORTS = range(21_000, 32_000)


def free_port() -> int:
    for port in random.sample(PORTS, 200):
        with closing(socket.socket()) as found, suppress(OSError):
            found.bind(("127.0.0.1", port))
            return port
    raise AssertionError("no port is free")


def address_in(folder: Path, database: str) -> str:
    """Return the address of the database that lies in a folder."""
    if database == "postgresql":
        place = quote(str(folder / "cluster"), safe="")
        return f"postgres://postgres@{place}:5432/postgres"
    return f"sqlite:///{folder / 'faults.sqlite3'}"


@cache
def migrated(database: str) -> Path:
    """Make a folder with an empty database of all tables, once: servers copy it."""
    folder = Path(DATA_DIR) / f"migrated-{database}"
    folder.mkdir(parents=True)
    cluster = str(folder / "cluster")
    if database == "postgresql":
        postgres("start", cluster, "5432", DURABLE)
    try:
        tables.set_up(address_in(folder, database))
    finally:
        if database == "postgresql":
            postgres("stop", cluster)
    return folder


@cache
def collected() -> Path:
    """Collect files as production serves them, once: hashed and compressed."""
    folder = Path(DATA_DIR) / "hashed"
    tables.manage(
        {"DATA_DIR": str(folder), "FAULTS_HASHED": "True"},
        "collectstatic",
        "--no-input",
    )
    return folder / "static"


def copy(source: Path, target: Path) -> None:
    # With its owner: a cluster belongs to another user.
    subprocess.run(["cp", "-a", f"{source}/.", str(target)], check=True)


class Server:
    """Gunicorn with the book behind it, its database, and a look into its tables."""

    def __init__(self, folder: Path, database: str) -> None:
        self.folder = folder
        self.port = free_port()
        self.cluster = str(folder / "cluster") if database == "postgresql" else ""
        folder.mkdir(parents=True, exist_ok=True)
        copy(migrated(database), folder)
        folder.chmod(0o755)
        self.photos = folder / PHOTOS
        self.photos.mkdir()
        # A link can be changed in one step, and a file be where the folder was.
        (folder / "photos").symlink_to(PHOTOS)
        self.url = address_in(folder, database)
        if self.cluster:
            postgres("start", self.cluster, "5432", DURABLE)
        self.surroundings = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "tests.faults.settings",
            "DATA_DIR": str(folder),
            "DATABASE_URL": self.url,
            "SECRET_KEY": "only-for-tests",
            "HTTPS": "False",
            "DEBUG": "False",
            "FAULTS_CLUSTER": self.cluster,
            "FAULTS_PLANT": "",
        }
        self.log = folder / "server.log"
        self.process: subprocess.Popen | None = None

    def seed(self, *, people: int, trees: int) -> dict[str, Any]:
        made = subprocess.run(
            [sys.executable, "-m", "tests.faults.seed", str(people), str(trees)],
            cwd=ROOT,
            env=self.surroundings,
            check=False,
            capture_output=True,
            text=True,
        )
        assert made.returncode == 0, made.stderr
        return json.loads(made.stdout)

    def collect_statics(self) -> None:
        """Serve files as production does: hashed, compressed, kept for ever."""
        self.surroundings["FAULTS_HASHED"] = "True"
        copy(collected(), self.folder / "static")

    def start(
        self,
        *options: str,
        application: str = "tests.faults.wsgi:application",
        workers: int = 2,
    ) -> None:
        self._start = partial(
            self.start, *options, application=application, workers=workers
        )
        command = [sys.executable, "-m", "gunicorn", application]
        command += ["--bind", f"127.0.0.1:{self.port}", "--workers", str(workers)]
        command += ["--preload", "--no-control-socket", "--timeout", "60"]
        command += ["--graceful-timeout", "1", *options]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                command,
                cwd=ROOT,
                env=self.surroundings,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self.wait_until_it_listens()

    def wait_until_it_listens(self) -> None:
        for _ in range(600):
            with suppress(OSError):
                socket.create_connection(("127.0.0.1", self.port), 1).close()
                return
            if self.process.poll() is not None:
                break
            time.sleep(0.05)
        raise AssertionError(f"the server does not start:\n{self.last_words()}")

    def kill(self) -> None:
        """Kill all of it at once, as a power cut does."""
        if self.process is not None:
            with suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait(30)
            self.process = None
            # Its children die a moment later, and still listen until then.
            with suppress(OSError):
                for _ in range(200):
                    socket.create_connection(("127.0.0.1", self.port), 1).close()
                    time.sleep(0.02)

    def restart(self) -> None:
        self.kill()
        self._start()

    def close(self) -> None:
        self.kill()
        if self.cluster:
            with suppress(subprocess.CalledProcessError):
                postgres("stop", self.cluster)
        shutil.rmtree(self.folder, ignore_errors=True)

    def last_words(self, lines: int = 40) -> str:
        said = self.log.read_text(errors="replace") if self.log.exists() else ""
        return "\n".join(said.splitlines()[-lines:])

    @contextmanager
    def table(self) -> Iterator[Any]:
        """Read the database itself, past the book: nobody can talk it over."""
        if self.cluster:
            with closing(psycopg.connect(self.url, autocommit=True)) as base:
                yield base
        else:
            path = self.url.removeprefix("sqlite:///")
            with closing(
                sqlite3.connect(path, isolation_level=None, timeout=20)
            ) as base:
                yield base

    def run(self, query: str, *, reads: bool = True) -> list[tuple]:
        """Run a statement; a database that is being restarted is waited for."""
        for _ in range(200):
            try:
                with self.table() as base:
                    ran = base.execute(query)
                    return ran.fetchall() if reads else []
            except psycopg.OperationalError:
                time.sleep(0.05)
        raise AssertionError("the database does not come back")

    def manage(self, *words: str) -> None:
        tables.manage(self.surroundings, *words)

    def folder_of(self, name: Any) -> Path:
        """Return where the files of a photo lie."""
        plain = str(name).replace("-", "")
        return self.photos / plain[:2] / plain

    def abandoned(self) -> set[str]:
        """Name the photos that have files and no row, and were not set aside."""
        entered = {
            self.folder_of(name)
            for (name,) in self.run("SELECT name FROM records_photo")
        }
        aside = self.photos / "aside"
        files = (
            path
            for path in self.photos.rglob("*")
            if path.is_file() and not path.is_relative_to(aside)
        )
        return {path.parent.name for path in files if path.parent not in entered}

    def rows_of(self, query: str, keys: Iterable[str]) -> list[tuple]:
        """Return rows of a query that ends in `IN %s`, for these keys."""
        hexes = [uuid.UUID(key) for key in keys]
        quoted = ", ".join(
            f"'{key}'" if self.cluster else f"'{key.hex}'" for key in hexes
        )
        return self.run(query % f"({quoted})") if hexes else []


def postgres(*words: str) -> None:
    subprocess.run(["sh", POSTGRES, *words], check=True, stdout=subprocess.DEVNULL)
