"""Measure pages at full size on both databases and print a table of ratios.

    python -m tests.bench                 both databases, full size (some minutes)
    python -m tests.bench --small         the same with a hundredth of the rows
    python -m tests.bench --only sqlite   one database
    python -m tests.bench holds           what treatments hold, of 200,000 uses
    python -m tests.bench library         the library of 500,000 photos, and making the
                                          sizes of one of them beside libvips
    python -m tests.bench load            whom the nightly work and a growth stage keep
                                          waiting, and the sun of 600 spots
    python -m tests.bench advice          the outlook and the care plan of 10,000 trees

Figures are ratios within one run on one machine: a page against hand-written SQL that
fetches the same, a long history against a short one. Promises: of full size, the board
of 200,000 open tasks within 4 times the raw SQL and each other page that gathers from
the orchard within 10 times that, the tree page within 10 times its own on PostgreSQL
(30 on SQLite), holds and the first page of the library within 8; a hundred times the
history at most 1.2 times slower, where less than 0.8 counts as not measured; the same
number of queries whatever the number of rows; a web process under 150 MB.
"""

from __future__ import annotations

import argparse
import os
import socket
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
DISK_IS_WAITED_FOR = "-c fsync=on -c synchronous_commit=on -c full_page_writes=on"


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench")
    parser.add_argument(
        "what",
        nargs="?",
        choices=["pages", "holds", "library", "load", "advice"],
        default="pages",
    )
    parser.add_argument("--small", action="store_true")
    parser.add_argument("--only", choices=["sqlite", "postgresql"])
    chosen = parser.parse_args()
    worst = 0
    for name in ("sqlite", "postgresql"):
        if chosen.only in (None, name):
            worst = max(worst, run(name, chosen.what, small=chosen.small))
    return worst


def run(name: str, what: str, *, small: bool) -> int:
    """Measure on one database, in a process and a folder of its own."""
    with tempfile.TemporaryDirectory(prefix="orchard-bench-") as folder:
        Path(folder).chmod(0o755)
        settings = {"DATA_DIR": folder, "SECRET_KEY": "bench", "HTTPS": "False"}
        stop = None
        if name == "sqlite":
            settings["DATABASE_URL"] = f"sqlite:///{folder}/bench.sqlite3"
        else:
            port = free_port()
            script = str(ROOT / "tests" / "postgres.sh")
            server = f"{folder}/server"
            more = DISK_IS_WAITED_FOR if what == "load" else ""
            subprocess.run(["sh", script, "start", server, str(port), more], check=True)
            stop = ["sh", script, "stop", server]
            settings["DATABASE_URL"] = f"postgres://postgres@127.0.0.1:{port}/postgres"
        try:
            return subprocess.run(
                [sys.executable, "-m", f"tests.bench.{what}", *["--small"] * small],
                cwd=ROOT,
                env={**os.environ, **settings},
                check=False,
            ).returncode
        finally:
            if stop:
                subprocess.run(stop, check=True)


def free_port() -> int:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        return held.getsockname()[1]


if __name__ == "__main__":
    sys.exit(main())
