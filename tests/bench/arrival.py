"""A crew's whole day arrives at once: many phones, each with a full outbox.

    python -m tests.bench.arrival                 200 phones, 40 records each, SQLite
    python -m tests.bench.arrival postgresql 200 40

Every phone sends as its script does: one entry at a time, the next one after the
receipt, the same again when it is told to wait. The rate is held against a bare view
that inserts the look as one row, measured on the same server in the same run, before
and after: at least half of it.
"""

from __future__ import annotations

import asyncio
import json
import statistics
import sys
import tempfile
import time
import uuid
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from tests.faults.server import Server

TOKEN = "t" * 32
LINE = "----line"
DAY = timedelta(hours=8)
PARTS = 8
BARE_SECONDS = 0.7
LEAST = 0.5
# How a day's records are mixed: of forty looks, two find something.
WELL = [["all_well", "1"]]
SUCKER = [["sign", "sucker"], ["sucker:graft", "below"], ["sucker:woody", "no"]]


@dataclass
class Arrived:
    """What came of it: answers and statuses counted, and the rates."""

    answers: Counter = field(default_factory=Counter)
    statuses: Counter = field(default_factory=Counter)
    sent: int = 0
    seconds: float = 0.0
    slowest: float = 0.0
    # For each part of the arrival: records a second, and rows of the bare view.
    rates: list[tuple[float, float]] = field(default_factory=list)

    @property
    def rate(self) -> float:
        return self.sent / self.seconds

    @property
    def bare_rate(self) -> float:
        return statistics.fmean(bare for _rate, bare in self.rates)

    @property
    def ratio(self) -> float:
        """The middle one of all parts: what else the machine does comes and goes."""
        return statistics.median(rate / bare for rate, bare in self.rates)

    def __str__(self) -> str:
        return (
            f"{self.sent} records in {self.seconds:.1f} s: {self.rate:.0f} a second,"
            f" {self.ratio:.2f} of the {self.bare_rate:.0f} of a bare view;"
            f" slowest answer {self.slowest:.1f} s; {dict(self.answers)},"
            f" {dict(self.statuses)}"
        )


def request_for(path: str, session: str, entry: dict[str, Any]) -> bytes:
    text = json.dumps(entry)
    body = (
        f'--{LINE}\r\nContent-Disposition: form-data; name="entry"\r\n\r\n'
        f"{text}\r\n--{LINE}--\r\n"
    ).encode()
    head = (
        f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n"
        f"Cookie: sessionid={session}; csrftoken={TOKEN}\r\nX-CSRFToken: {TOKEN}\r\n"
        f"Content-Type: multipart/form-data; boundary={LINE}\r\n"
        f"Content-Length: {len(body)}\r\n\r\n"
    )
    return head.encode() + body


def outbox_of(person: dict, number: int, count: int, world: dict) -> list[dict]:
    begun = datetime.now(UTC) - DAY
    trees = world["trees"]
    return [
        {
            "version": 1,
            "key": str(uuid.uuid4()),
            "kind": "inspection",
            "orchard": world["orchard"],
            "person": person["id"],
            "made_at": (begun + n * DAY / count).isoformat(),
            "sent_at": datetime.now(UTC).isoformat(),
            "fields": {
                "tree": trees[(number * 7 + n) % len(trees)],
                "form": SUCKER if (n + number) % 20 == 0 else WELL,
            },
        }
        for n in range(count)
    ]


async def sent(port: int, request: bytes) -> tuple[int, dict]:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(request)
    answer = await reader.read()
    writer.close()
    head, _, body = answer.partition(b"\r\n\r\n")
    return int(head.split(b" ", 2)[1]), json.loads(body) if b"json" in head else {}


async def phone(
    server: Server, person: dict, entries: list[dict], arrived: Arrived
) -> None:
    for entry in entries:
        request = request_for("/inbox/", person["session"], entry)
        for _ in range(20):
            begun = time.perf_counter()
            status, answer = await sent(server.port, request)
            arrived.slowest = max(arrived.slowest, time.perf_counter() - begun)
            arrived.statuses[status] += 1
            arrived.answers[answer.get("answer", "none")] += 1
            if answer.get("answer") in ("kept", "already"):
                arrived.sent += 1
                break
            await asyncio.sleep(1)


async def bare_rate(server: Server, world: dict, *, seconds: float) -> float:
    """Return how many rows a second a bare view inserts for the same crowd."""
    until = time.perf_counter() + seconds
    done = 0

    async def one(person: dict) -> None:
        nonlocal done
        [entry] = outbox_of(person, 0, 1, world)
        request = request_for("/bare/", person["session"], entry)
        while time.perf_counter() < until:
            status, _answer = await sent(server.port, request)
            assert status == 200, status
            done += 1

    begun = time.perf_counter()
    await asyncio.gather(*map(one, world["people"]))
    return done / (time.perf_counter() - begun)


async def arrive(server: Server, world: dict, *, each: int, bare_s: float) -> Arrived:
    arrived = Arrived()
    people = world["people"]
    outboxes = [outbox_of(one, n, each, world) for n, one in enumerate(people)]
    # By turns, so that whatever else this machine does weighs on both alike.
    bare = await bare_rate(server, world, seconds=bare_s)
    for part in range(PARTS):
        before, sent_before = bare, arrived.sent
        begun = time.perf_counter()
        await asyncio.gather(
            *(
                phone(server, one, box[part::PARTS], arrived)
                for one, box in zip(people, outboxes, strict=True)
            )
        )
        took = time.perf_counter() - begun
        bare = await bare_rate(server, world, seconds=bare_s)
        arrived.seconds += took
        rate = (arrived.sent - sent_before) / took
        arrived.rates.append((rate, (before + bare) / 2))
    return arrived


def measure(
    database: str, *, phones: int, each: int, bare_s: float = BARE_SECONDS
) -> tuple[Arrived, dict[str, int]]:
    """Let them all arrive: what was answered, and what the book then holds.

    `bare_s` is how long a bare view is tried before and after each part, in seconds;
    with 0 only right and wrong are told, and no rate.
    """
    folder = Path(tempfile.mkdtemp(prefix="orchard-arrival-"))
    server = Server(folder, database)
    server.surroundings["FAULTS_URLS"] = "tests.faults.bare"
    try:
        world = server.seed(people=phones, trees=60)
        server.start("--threads", "4", application="tests.faults.bare:application")
        # A thread of its own: where a browser is driven, this one has a loop already.
        with ThreadPoolExecutor(1) as own:
            arrival = arrive(server, world, each=each, bare_s=bare_s)
            arrived = own.submit(asyncio.run, arrival).result()
        sql = (
            "SELECT count(*), count(DISTINCT i.key) FROM records_receipt r"
            " JOIN records_inspection i ON i.key = r.key AND i.id = r.subject_id"
        )
        [(receipts, records)] = server.run(sql)
        held = {"receipts": receipts, "records": records}
        complaints = server.last_words(10_000).lower()
        held["complaints"] = complaints.count("locked") + complaints.count("traceback")
        return arrived, held
    finally:
        server.close()


def main() -> int:
    database = sys.argv[1] if len(sys.argv) > 1 else "sqlite"
    phones, each = map(int, sys.argv[2:4]) if len(sys.argv) > 3 else (200, 40)
    arrived, held = measure(database, phones=phones, each=each)
    holds = arrived.ratio >= LEAST
    print(f"{database}: {arrived}; in the book: {held}")
    print(f"at least {LEAST:g} of the bare view: {'holds' if holds else 'BROKEN'}")
    return 0 if holds else 1


if __name__ == "__main__":
    sys.exit(main())
