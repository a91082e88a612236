"""Eight hours afield: 14 trees, 60 photos, no signal, and all that can die does.

The browser is killed once under a tree and once in the middle of the sending, the
server once in the middle of the sending. Everything arrives once, in order, with its
times; nothing asks to retype.
"""

from __future__ import annotations

import os
import tempfile
import time
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.db import connection
from playwright.sync_api import Error, expect

from tests.conftest import PASSWORD
from tests.faults.afield import ENTRIES, kill_all_with, photo
from tests.faults.schedules import moment, plain
from tests.faults.server import Server
from tests.flows.conftest import PHONE, answer_more, go, sign_in, write_note

TREES, PHOTOS = 14, 60
# Thirteen ways from tree to tree: eight hours.
BETWEEN = timedelta(minutes=37)


@pytest.fixture
def server():
    server = Server(Path(tempfile.mkdtemp(prefix="orchard-day-")), connection.vendor)
    try:
        server.world = server.seed(people=2, trees=TREES)
        server.collect_statics()
        server.start("--threads", "4", application="orchard.wsgi:application")
        yield server
    finally:
        server.close()


class Phone:
    """A browser with a profile on the disk, which outlives its being killed."""

    def __init__(self, playwright, launch, server, folder):
        # Who is killed tidies nothing up: what it leaves lies in the test's own folder.
        self.launch = lambda: playwright.chromium.launch_persistent_context(
            self.profile,
            **launch,
            env={**os.environ, "TMPDIR": str(folder)},
            base_url=f"http://127.0.0.1:{server.port}",
            viewport=PHONE,
            has_touch=True,
            is_mobile=True,
        )
        self.profile = str(folder / "profile")
        self.complaints: list[str] = []

    def open(self, *, signal: bool):
        self.context = self.launch()
        self.context.set_offline(not signal)
        self.page = self.context.new_page()
        self.page.on("pageerror", lambda fault: self.complaints.append(str(fault)))
        return self.page

    def close(self) -> None:
        self.context.close()

    def kill(self) -> None:
        assert kill_all_with(self.profile), "there was no browser to kill"
        with suppress(Error):
            self.context.close()


@pytest.fixture
def phone(playwright, browser_type_launch_args, server):
    # A short name: the browser's socket lies in it, and an address has its limits.
    with tempfile.TemporaryDirectory(prefix="phone-", ignore_cleanup_errors=True) as at:
        phone = Phone(playwright, browser_type_launch_args, server, Path(at))
        yield phone
        with suppress(Error):
            phone.close()


def take_along(page, walk: str) -> None:
    go(page, walk)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.get_by_role("button", name="Take this round along").click()
    expect(page.locator("[data-kept=ready]")).to_be_visible(timeout=90_000)


def note(page, number: int, walk: int, seen: datetime, photos: list[bytes]) -> None:
    """Note something on a tree at a time of the day, as a person does."""
    page.clock.set_fixed_time(seen)
    go(page, f"/alderbrook/trees/A-{number}/inspections/new/?round={walk}")
    form = page.locator("form[data-outbox=inspection]")
    expect(form).to_have_attribute("data-tree", f"A-{number}")
    if number % 3 == 0:
        page.fill("#word", "sucker")
        tap(page, "sign", "sucker")
        tap(page, "sucker:graft", "below")
        answer_more(page, "sucker:woody", "no")
        said = page.locator('[data-sign="sucker"] [data-said]')
        expect(said).to_contain_text("Act")
    else:
        write_note(page, f"Tree {number}: nothing – 緑")
    page.set_input_files(
        "#photos",
        [
            {"name": f"{n}.jpg", "mimeType": "image/jpeg", "buffer": content}
            for n, content in enumerate(photos)
        ],
    )
    page.get_by_role("button", name="Save").click()


def tap(page, name: str, value: str) -> None:
    field = page.locator(f'input[name="{name}"][value="{value}"]')
    page.locator("label.tile", has=field).click()


def received(server: Server) -> int:
    return server.run("SELECT count(*) FROM records_receipt")[0][0]


def wait_for(server: Server, count: int, *, seconds: float = 120) -> None:
    until = time.monotonic() + seconds
    while received(server) < count:
        assert time.monotonic() < until, f"only {received(server)} of {count} came"
        time.sleep(0.05)


def test_a_day_without_signal_arrives_whole(server, phone):
    walk = server.world["round"]
    last = datetime.now(UTC).replace(microsecond=0) - timedelta(minutes=20)
    seen = [last - n * BETWEEN for n in reversed(range(TREES))]
    photos = [PHOTOS // TREES + (n < PHOTOS % TREES) for n in range(TREES)]
    taken: dict[int, list[datetime]] = {}

    # In the shed.
    page = phone.open(signal=True)
    person = type("Walker", (), server.world["people"][0])
    sign_in(page, person, PASSWORD)
    take_along(page, f"/alderbrook/rounds/{walk}/")
    phone.close()

    # Under the trees.
    page = phone.open(signal=False)
    waiting = 0
    for n in range(TREES):
        taken[n] = [seen[n] - timedelta(seconds=9 * k + 5) for k in range(photos[n])]
        note(
            page,
            n + 1,
            walk,
            seen[n],
            [photo(10 * n + k, at) for k, at in enumerate(taken[n])],
        )
        waiting += 1 + photos[n]
        expect(page.locator("#tray")).to_contain_text(f"{waiting} waiting since")
        if n == TREES // 2:
            phone.kill()
            page = phone.open(signal=False)
    entries = page.evaluate(ENTRIES)
    assert len(entries) == waiting == TREES + PHOTOS
    assert received(server) == 0
    phone.close()

    # Back in the shed: the server dies, then the browser, and neither is told.
    page = phone.open(signal=True)
    go(page, "/outbox/")
    wait_for(server, 8)
    server.restart()
    wait_for(server, 35)
    phone.kill()
    assert received(server) < TREES + PHOTOS
    page = phone.open(signal=True)
    go(page, "/outbox/")
    expect(page.get_by_text("Nothing is waiting.")).to_be_visible(timeout=120_000)
    assert page.evaluate(ENTRIES) == []
    assert not phone.complaints

    check_records(server, entries, seen)
    check_photos(server, entries, taken)
    keys = [plain(key) for (key,) in server.run("SELECT key FROM records_receipt")]
    assert sorted(keys) == sorted(entry["key"] for entry in entries)


def check_records(server: Server, entries: list[dict], seen: list[datetime]) -> None:
    rows = server.run(
        "SELECT i.key, t.code, i.seen_at, i.made_at, i.offset_seconds, i.round_id,"
        " i.note FROM records_inspection i JOIN records_tree t ON t.id = i.tree_id"
        " ORDER BY i.id"
    )
    looks = [entry for entry in entries if entry["kind"] == "inspection"]
    assert [plain(row[0]) for row in rows] == [entry["key"] for entry in looks]
    assert [row[1] for row in rows] == [f"A-{n + 1}" for n in range(TREES)]
    assert [moment(row[2]) for row in rows] == seen
    assert [moment(row[3]) for row in rows] == seen
    assert {row[4] for row in rows} == {0}
    assert {row[5] for row in rows} == {server.world["round"]}
    notes = [
        "" if n % 3 == 0 else f"Tree {n}: nothing – 緑" for n in range(1, TREES + 1)
    ]
    assert [row[6] for row in rows] == notes


def check_photos(
    server: Server, entries: list[dict], taken: dict[int, list[datetime]]
) -> None:
    rows = server.run(
        "SELECT t.code, p.taken_at FROM records_photo p"
        " JOIN records_photolink l ON l.photo_id = p.id"
        " JOIN records_inspection i ON i.id = l.inspection_id"
        " JOIN records_tree t ON t.id = i.tree_id ORDER BY p.id"
    )
    wanted = [(f"A-{n + 1}", at) for n, moments in taken.items() for at in moments]
    assert [(code, moment(at)) for code, at in rows] == wanted
    assert len(wanted) == PHOTOS == sum(entry["kind"] == "photo" for entry in entries)
