"""Pages a second that the book is served with, on both databases in one run.

    python -m tests.bench.served           with the demonstration
    python -m tests.bench.served --small   with a few trees of it

Each database holds the same demonstration, and one process of four threads serves it.
The two are asked in turn, by one reader and by four at once, so that a slow moment of
the machine meets both. Promise: PostgreSQL, asked through its socket, serves at least
0.9 of the pages that SQLite does.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import cycle
from pathlib import Path

from tests.bench.__main__ import ROOT, free_port

# Settings of their own, which hold before Django is set up by what is imported next.
FOLDER = tempfile.TemporaryDirectory(prefix="orchard-served-")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
os.environ.update(
    {
        "DATA_DIR": FOLDER.name,
        "SECRET_KEY": "bench",
        "HTTPS": "False",
        "DATABASE_URL": f"sqlite:///{FOLDER.name}/book.sqlite3",
    }
)

from tests.bench import serving  # noqa: E402

PLACES = (
    "",
    "board/",
    "trees/",
    "trees/{code}/",
    "trees/{code}/inspections/new/",
    "outlook/",
    "care/",
    "guide/",
)
READERS, TURNS, SECONDS = (1, 4), 9, 1.5
# Each thread has a connection of its own, and a database plans a question for good only
# after it has come some times: a server that runs for weeks is past that.
WARMING = 40.0
LEAST = 0.9
SIGN_IN = """
from django.test import Client
from orchard.records.models import Membership, Tree
coordinator = Membership.objects.filter(role="coordinator", left_at=None).earliest("pk")
client = Client()
client.force_login(coordinator.user)
tree = Tree.objects.in_orchard(coordinator.orchard).standing().earliest("pk")
print(coordinator.orchard.slug, tree.code, client.cookies["sessionid"].value)
"""


def manage(address: str, *words: str) -> str:
    return subprocess.run(  # noqa: S603
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env={**os.environ, "DATABASE_URL": address},
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    ).stdout


def fill(address: str, *, small: bool) -> tuple[list[str], str]:
    """Make the demonstration; return the addresses of its pages, and a session."""
    manage(address, "migrate", "--verbosity=0")
    manage(address, "seed_orchard", *["--small"] * small)
    manage(address, "nightly", "--verbosity=0")
    *_printed, line = manage(address, "shell", "-c", SIGN_IN).splitlines()
    slug, code, session = line.split()
    return [f"/{slug}/{place.format(code=code)}" for place in PLACES], session


def pages_a_second(
    pages: list[Callable[[], None]], *, readers: int, seconds: float = SECONDS
) -> float:
    """Read pages for a while, each reader one after the other."""
    until = time.perf_counter() + seconds

    def count_pages(first: int) -> int:
        count = 0
        for page in cycle([*pages[first:], *pages[:first]]):
            if time.perf_counter() >= until:
                break
            page()
            count += 1
        return count

    begun = time.perf_counter()
    with ThreadPoolExecutor(readers) as crowd:
        count = sum(crowd.map(count_pages, range(readers)))
    return count / (time.perf_counter() - begun)


def measure(postgresql: str, *, small: bool) -> bool:
    """Print the pages a second of both; return whether the promise holds."""
    addresses = {"sqlite": os.environ["DATABASE_URL"], "postgresql": postgresql}
    filled = {name: fill(at, small=small) for name, at in addresses.items()}
    servers = {
        name: serving.Server(at, filled[name][1]) for name, at in addresses.items()
    }
    holds = True
    with servers["sqlite"], servers["postgresql"]:
        pages = {
            name: [server.page(address) for address in filled[name][0]]
            for name, server in servers.items()
        }
        for own in pages.values():
            pages_a_second(own, readers=max(READERS), seconds=WARMING)
        for readers in READERS:
            rates: dict[str, list[float]] = {name: [] for name in pages}
            for _ in range(TURNS):
                for name, own in pages.items():
                    rates[name].append(pages_a_second(own, readers=readers))
            lite, post = (statistics.median(rates[name]) for name in addresses)
            ratio = statistics.median(
                theirs / ours for ours, theirs in zip(*rates.values(), strict=True)
            )
            holds = holds and ratio >= LEAST
            mark = "ok" if ratio >= LEAST else "TOO FEW"
            print(
                f"{readers} readers: SQLite {lite:6.1f}, PostgreSQL {post:6.1f} pages "
                f"a second, {ratio:.2f} of them  >= {LEAST:g}  {mark}"
            )
    return holds


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.served")
    parser.add_argument("--small", action="store_true")
    chosen = parser.parse_args()
    Path(FOLDER.name).chmod(0o755)
    script, port = str(ROOT / "tests" / "postgres.sh"), free_port()
    place = f"{FOLDER.name}/server"
    subprocess.run(["sh", script, "start", place, str(port)], check=True)  # noqa: S603, S607
    try:
        address = f"postgres://postgres@/postgres?host={place}&port={port}"
        return 0 if measure(address, small=chosen.small) else 1
    finally:
        subprocess.run(["sh", script, "stop", place], check=True)  # noqa: S603, S607


if __name__ == "__main__":
    sys.exit(main())
