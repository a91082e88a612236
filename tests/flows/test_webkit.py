"""Phones without Chromium: a day without signal in the second engine, WebKitGTK.

The way to the server is a line that the test cuts, for this engine has no switch for
it. The phone keeps its profile on the disk and is killed with all that keeps its
stores; in a private window, which forgets by itself, nothing is lost while it is open.
"""

from __future__ import annotations

import os
import tempfile
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path

import pytest
from django.db import connection
from PIL import Image

from tests.conftest import PASSWORD
from tests.faults.afield import EXIF_PART, TAKEN_AT, TAKEN_OFFSET, photo
from tests.faults.schedules import moment, plain
from tests.faults.server import Server
from tests.faults.weak_line import WeakLine
from tests.flows.test_day import (
    BETWEEN,
    PHOTOS,
    TREES,
    check_photos,
    check_records,
    received,
    wait_for,
)
from tests.webkit.phone import Phone, a_screen, lacking

# Alone, for on a busy machine this engine's store sometimes never answers.
pytestmark = [pytest.mark.on_sqlite, pytest.mark.timed]

UPRIGHT_NEXT = 6
# A look at each tree, the photos, a watering, an event.
EVERYTHING = TREES + PHOTOS + 2
JPEG = [0xFF, 0xD8, 0xFF]


@pytest.fixture(scope="session")
def screen():
    missing = lacking()
    if missing and os.environ.get("ORCHARD_ALL_PARTS"):
        pytest.fail(f"WebKitGTK cannot be driven, there is no {missing}.")
    if missing:
        pytest.skip(f"WebKitGTK cannot be driven, there is no {missing}.")
    with a_screen() as name:
        yield name


@pytest.fixture
def server(screen):
    server = Server(Path(tempfile.mkdtemp(prefix="orchard-webkit-")), connection.vendor)
    try:
        server.world = server.seed(people=2, trees=TREES)
        server.collect_statics()
        server.start("--threads", "4", application="orchard.wsgi:application")
        yield server
    finally:
        server.close()


@pytest.fixture
def line(server):
    with WeakLine(server.port) as line:
        yield line


@pytest.fixture
def phone(request, screen, line, tmp_path):
    private = getattr(request, "param", "kept") == "private"
    phone = Phone(tmp_path, screen, f"http://127.0.0.1:{line.port}", private=private)
    phone.open()
    yield phone
    phone.close()


def in_the_shed(phone: Phone, server: Server) -> str:
    """Sign in and take the round along; return its number."""
    walk = server.world["round"]
    phone.sign_in(server.world["people"][0]["email"], PASSWORD)
    phone.go(f"/alderbrook/rounds/{walk}/")
    phone.run("() => navigator.serviceWorker.ready")
    phone.press("[data-round-pages] button")
    phone.until(lambda: phone.find("[data-kept=ready]"), seconds=90)
    for path in ("waterings/", "trees/A-1/events/"):
        phone.go(f"/alderbrook/{path}")
        phone.until(lambda: phone.find("form[data-outbox]"))
    return walk


def note(
    phone: Phone,
    number: int,
    walk: str,
    photos: list[Path],
    seen: datetime | None = None,
    *,
    waiting: int = 0,
) -> None:
    """Note something on a tree, as a person does; every third tree has a sucker.

    Where entries are `waiting`, their line comes in above the form and moves it:
    nothing is pressed before it is there.
    """
    phone.go(f"/alderbrook/trees/A-{number}/inspections/new/?round={walk}")
    if waiting:
        phone.says("#tray", f"{waiting} waiting since")
    if seen is not None:
        phone.set_clock(seen.timestamp() * 1000)
    if number % 3 == 0:
        phone.write("#word", "sucker")
        phone.tap("sign", "sucker")
        phone.tap("sucker:graft", "below")
        phone.press('[data-sign="sucker"] [data-asks="woody"]')
        phone.tap("sucker:woody", "no")
        phone.says('[data-sign="sucker"] [data-said]', "Act")
    else:
        phone.press('[data-go="more"]')
        phone.unfold("#note")
        phone.write("#note", f"Tree {number}: nothing – 緑")
    if photos:
        phone.choose("#photos", photos)
    phone.press("form[data-outbox] button.primary")


def test_a_day_without_signal_arrives_whole(server, line, phone, tmp_path):
    last = datetime.now(UTC).replace(microsecond=0) - timedelta(minutes=20)
    seen = [last - n * BETWEEN for n in reversed(range(TREES))]
    photos = [PHOTOS // TREES + (n < PHOTOS % TREES) for n in range(TREES)]
    taken: dict[int, list[datetime]] = {}
    walk = in_the_shed(phone, server)
    phone.close()
    line.die()

    # Under the trees.
    phone.open()
    waiting = 0
    for n in range(TREES):
        taken[n] = [seen[n] - timedelta(seconds=9 * k + 5) for k in range(photos[n])]
        files = [tmp_path / f"{n}-{k}.jpg" for k in range(photos[n])]
        for k, file in enumerate(files):
            file.write_bytes(photo(10 * n + k, taken[n][k]))
        note(phone, n + 1, walk, files, seen[n], waiting=waiting)
        waiting += 1 + photos[n]
        phone.says("#tray", f"{waiting} waiting since")
        # The page leads back to the round by itself, one step after the other.
        phone.until(lambda: phone.driver.current_url.endswith(f"/rounds/{walk}/"))
        if n == TREES // 2:
            phone.kill()
            phone.open()
    # Besides looks: water given, and a branch that came down.
    phone.go("/alderbrook/waterings/")
    phone.write('[name="tree"]', "A-2")
    phone.write('[name="litres"]', "40")
    phone.press("form[data-outbox] button.primary")
    phone.says("#tray", f"{waiting + 1} waiting since")
    phone.go("/alderbrook/trees/A-1/events/")
    phone.tap("what", "other")
    phone.write('[name="note"]', "A branch came down")
    phone.press("form[data-outbox] button.primary")
    phone.says("#tray", f"{waiting + 2} waiting since")
    entries = phone.entries()
    assert len(entries) == waiting + 2 == EVERYTHING
    held = phone.kept_bytes()
    assert [row[0] for row in held] == [True] * PHOTOS
    assert [row[1:] for row in held] == [JPEG] * PHOTOS
    assert received(server) == 0
    phone.close()

    # Back in the shed: the server dies, then the browser, and neither is told.
    line.revive()
    phone.open()
    phone.go("/outbox/")
    wait_for(server, 8)
    server.restart()
    wait_for(server, 35)
    phone.kill()
    assert received(server) < EVERYTHING
    phone.open()
    phone.go("/outbox/")
    phone.says("[data-empty]", "Nothing is waiting.", seconds=120)
    assert phone.entries() == []

    check_records(server, entries, seen)
    check_photos(server, entries, taken)
    keys = [plain(key) for (key,) in server.run("SELECT key FROM records_receipt")]
    assert sorted(keys) == sorted(entry["key"] for entry in entries)
    assert server.run("SELECT litres FROM records_watering") == [(40,)]
    assert server.run("SELECT note FROM records_happening") == [("A branch came down",)]


def lying_on_its_side(path: Path, taken: datetime) -> Path:
    """Write a large photo as a phone's camera does: turned, and with its time."""
    exif = Image.Exif()
    exif[0x0112] = UPRIGHT_NEXT
    part = exif.get_ifd(EXIF_PART)
    part[TAKEN_AT] = f"{taken:%Y:%m:%d %H:%M:%S}"
    part[TAKEN_OFFSET] = "+00:00"
    out = BytesIO()
    Image.effect_noise((3000, 2000), 80).convert("RGB").save(out, "JPEG", exif=exif)
    path.write_bytes(out.getvalue())
    return path


@pytest.mark.parametrize("phone", ["kept", "private"], indirect=True)
def test_a_look_with_a_large_photo_outlives_its_page(server, line, phone, tmp_path):
    """One engine loses blobs without a word, in private windows above all."""
    taken = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=2)
    large = lying_on_its_side(tmp_path / "IMG_1.jpg", taken)
    walk = in_the_shed(phone, server)
    line.die()
    note(phone, 3, walk, [large])
    phone.says("#tray", "2 waiting since")
    look, picture = phone.entries()
    assert ["sucker:shown", "act"] in look["fields"]["form"]
    assert 0 < picture["size"] < large.stat().st_size
    assert phone.kept_bytes() == [[True, *JPEG]]

    # The page is reloaded, and then its window closed, still without signal.
    phone.go("/outbox/")
    phone.driver.refresh()
    phone.until(
        lambda: len(phone.driver.find_elements("css selector", "[data-entry]")) == 2
    )
    phone.driver.switch_to.new_window("window")
    fresh = phone.driver.current_window_handle
    phone.driver.switch_to.window(
        next(one for one in phone.driver.window_handles if one != fresh)
    )
    phone.driver.close()
    phone.driver.switch_to.window(fresh)
    phone.go("/outbox/")
    phone.says("#tray", "2 waiting since")
    assert received(server) == 0

    line.revive()
    phone.go("/outbox/")
    phone.says("[data-empty]", "Nothing is waiting.", seconds=120)
    rows = server.run("SELECT key FROM records_inspection")
    assert [plain(key) for (key,) in rows] == [look["key"]]
    ((width, height, at),) = server.run(
        "SELECT width, height, taken_at FROM records_photo"
    )
    assert (width, height, moment(at)) == (1365, 2048, taken)
    assert received(server) == 2
