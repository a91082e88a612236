"""Measure advice on many trees: the outlook, the care plan and the nightly work.

    python -m tests.bench advice              1,000 and 10,000 trees, both databases
    python -m tests.bench advice --small      30 and 300 trees
    python -m tests.bench.advice --sizes 500  on SQLite alone, other sizes

Each page is asked for as a member asks, by Django's client. Its time is a ratio to
hand-written SQL that fetches the rows it rests on: trees with cultivar and spot,
newest crowns, waterings and the days of weather of the balance. Promises: the same
number of queries whatever the number of trees; at 1,000 trees at most 300 ms and at
10,000 at most 1 s for a page, and none of them over 200 KB, for lists come in pages.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from importlib import import_module
from io import StringIO
from unittest import mock

# Before Django is asked for anything: the measurement has a database of its own.
FOLDER = tempfile.TemporaryDirectory(prefix="orchard-advice-")
os.environ.setdefault("DATABASE_URL", f"sqlite:///{FOLDER.name}/bench.sqlite3")
os.environ.setdefault("DATA_DIR", FOLDER.name)
os.environ.setdefault("SECRET_KEY", "bench")
os.environ.setdefault("HTTPS", "False")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

# As it is served: Django set up, and the process as a web server has it.
import_module("orchard.wsgi")

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import (  # noqa: E402
    CaptureQueriesContext,
    override_settings,
)

from tests.bench import many_trees  # noqa: E402

PAGES = (
    "",
    "outlook/",
    "outlook/water/",
    "outlook/frost/",
    "outlook/heat/",
    "outlook/sun/",
    "outlook/ripeness/",
    "care/",
)
MOST_MS = {1_000: 300.0, 10_000: 1_000.0}
MOST_KB = 200
RUNS = 3
ROWS = (
    """SELECT tree.*, kind.*, spot.*, block.* FROM records_tree AS tree
    JOIN records_kind AS kind ON kind.id = tree.kind_id
    JOIN records_spot AS spot ON spot.id = tree.spot_id
    JOIN records_block AS block ON block.id = spot.block_id
    WHERE tree.orchard_id = %s AND tree.state = 'growing'
    ORDER BY block.position, spot.position, tree.id""",
    """SELECT tree_id, width_m, height_m FROM records_crown
    WHERE orchard_id = %s AND superseded_at IS NULL AND withdrawn_at IS NULL""",
    """SELECT tree_id, given_on, litres FROM records_watering
    WHERE orchard_id = %s AND superseded_at IS NULL AND withdrawn_at IS NULL""",
    """SELECT day.* FROM records_weatherday AS day
    JOIN records_station AS station ON station.id = day.station_id
    WHERE station.orchard_id = %s ORDER BY day.on DESC LIMIT 400""".replace(
        "day.on", 'day."on"'
    ),
)


def fetch(orchard_id: int) -> None:
    with connection.cursor() as cursor:
        for sql in ROWS:
            cursor.execute(sql, [orchard_id])
            cursor.fetchall()


def milliseconds(deed: Callable[[], object]) -> float:
    """Return the middle time of some runs, after one that only warms up."""
    deed()
    taken = []
    for _ in range(RUNS):
        begun = time.process_time()
        deed()
        taken.append((time.process_time() - begun) * 1000)
    return statistics.median(taken)


def count_queries(deed: Callable[[], object]) -> int:
    with CaptureQueriesContext(connection) as asked:
        deed()
    return len(asked)


def measure(sizes: list[int]) -> bool:
    """Print a line for each page and size; return whether all promises hold."""
    holds = True
    queries: dict[str, set[int]] = {}
    print(
        f"\n{connection.vendor}\n{'page':20}{'trees':>8}{'ms':>10}"
        f"{'x SQL':>8}{'queries':>9}{'KB':>8}"
    )
    for size in sizes:
        orchard, person = many_trees.make_orchard(size, f"bench-{size}")
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        client = Client()
        client.force_login(person)
        reference = milliseconds(lambda pk=orchard.pk: fetch(pk))
        print(f"{'(SQL alone)':20}{size:8,}{reference:10.0f}{1:8.1f}{len(ROWS):9}")
        for place in PAGES:
            address = f"/{orchard.slug}/{place}"

            def get(client: Client = client, address: str = address) -> int:
                answer = client.get(address)
                assert answer.status_code == 200, (address, answer.status_code)
                return len(answer.content)

            took, asked = milliseconds(get), count_queries(get)
            queries.setdefault(place, set()).add(asked)
            large = get() / 1024
            fits = large <= MOST_KB and took <= MOST_MS.get(size, took)
            mark = "ok" if fits else "TOO MUCH"
            holds = holds and fits
            print(
                f"{place or 'home':20}{size:8,}{took:10.0f}{took / reference:8.1f}"
                f"{asked:9}{large:8.0f}  {mark}"
            )
        for number in (1, 2):
            begun = time.process_time()
            asked = count_queries(
                lambda slug=orchard.slug: call_command(
                    "nightly", orchard=slug, stdout=StringIO()
                )
            )
            took = (time.process_time() - begun) * 1000
            print(
                f"{f'nightly, run {number}':20}{size:8,}{took:10.0f}"
                f"{took / reference:8.1f}{asked:9}"
            )
    for place, counted in queries.items():
        if len(counted) > 1:
            holds = False
            print(f"{place or 'home'}: queries grow with the trees, {sorted(counted)}")
    return holds


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.advice")
    parser.add_argument("--small", action="store_true")
    parser.add_argument("--sizes", type=int, nargs="+", default=[1_000, 10_000])
    chosen = parser.parse_args()
    call_command("migrate", verbosity=0)
    with (
        mock.patch("django.utils.timezone.now", return_value=many_trees.NOW),
        override_settings(ALLOWED_HOSTS=["testserver"]),
    ):
        return 0 if measure([30, 300] if chosen.small else chosen.sizes) else 1


if __name__ == "__main__":
    sys.exit(main())
