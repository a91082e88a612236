"""Runs schedules of mishaps, and says what was lost, doubled or mixed up by them.

The phone's scripts run as they are, in node, with a played IndexedDB; the server is a
real one on a real database; between them stands a line on which everything may happen.
"""

from __future__ import annotations

import base64
import json
import os
import queue
import shutil
import subprocess
import tempfile
import threading
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image

from tests.faults.proxy import Line
from tests.faults.server import ROOT, Server

PEOPLE, TREES = 12, 30
# Longer than any single schedule takes, however slow the machine.
PATIENCE = 120
# Between what the phone says and what the server may know of its clock lies the way.
CLOCK_SECONDS = 30

# One statement each, for a database shows one moment to one statement.
TORN = {
    "records without a receipt": "SELECT i.id FROM records_inspection i"
    " LEFT JOIN records_receipt r ON r.key = i.key WHERE r.id IS NULL",
    "receipts without a record": "SELECT r.id FROM records_receipt r"
    " LEFT JOIN records_inspection i ON i.key = r.key"
    " WHERE i.id IS NULL AND r.kind = 'inspection'",
    "photos without a receipt": "SELECT p.id FROM records_photo p LEFT JOIN"
    " records_receipt r ON r.subject_id = p.id AND r.kind = 'photo' WHERE r.id IS NULL",
    "events without a receipt": "SELECT h.id FROM records_happening h LEFT JOIN"
    " records_receipt r ON r.subject_id = h.id AND r.kind = 'event' WHERE r.id IS NULL",
    "receipts without an event": "SELECT r.id FROM records_receipt r LEFT JOIN"
    " records_happening h ON h.id = r.subject_id"
    " WHERE h.id IS NULL AND r.kind = 'event'",
    "receipts without a photo": "SELECT r.id FROM records_receipt r LEFT JOIN"
    " records_photo p ON p.id = r.subject_id"
    " WHERE p.id IS NULL AND r.kind = 'photo'",
}


# Of each photo: three sizes to show, and what was sent.
FILES = {"large.jpg", "middle.jpg", "small.jpg", "original"}
# After these nobody is left to remove files, or they cannot be reached.
LEAVES_FILES = ("kill@", "restart@", "folder@")


class Broken(AssertionError):
    """The harness itself has failed: no statement about the book."""


def small_photo() -> bytes:
    out = BytesIO()
    Image.new("RGB", (24, 16), "olive").save(out, "JPEG", quality=60)
    return out.getvalue()


class Schedules:
    """A server, a line and a crowd of phones, ready for any number of schedules."""

    def __init__(self, database: str) -> None:
        # A bug in the phone's scripts, which has to be found.
        self.bug = ""
        # Folders with files of photos that the book does not have.
        self.strays: set[str] = set()
        folder = Path(tempfile.mkdtemp(prefix="orchard-faults-"))
        self.server = Server(folder, database)
        try:
            self.world = self.server.seed(people=PEOPLE, trees=TREES)
            self.server.start()
            self.line = Line(self.server.port)
            self.line.__enter__()
            self.world["port"] = self.line.port
            self.world["picture"] = base64.b64encode(small_photo()).decode()
            self.errors = (folder / "phones.log").open("wb+")
            self.phones = subprocess.Popen(
                [shutil.which("node"), str(ROOT / "tests" / "faults" / "run.mjs")],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self.errors,
                text=True,
            )
            self._said: queue.Queue[str] = queue.Queue()
            threading.Thread(target=self._listen, daemon=True).start()
        except BaseException:
            self.server.close()
            raise

    def __enter__(self) -> Schedules:
        return self

    def __exit__(self, *_exc) -> None:
        self.phones.kill()
        self.phones.wait(10)
        self.line.__exit__()
        self.errors.close()
        self.server.close()

    def _listen(self) -> None:
        for line in self.phones.stdout:
            self._said.put(line)
        self._said.put("")

    def _hear(self) -> dict[str, Any]:
        try:
            line = self._said.get(timeout=PATIENCE)
        except queue.Empty:
            raise Broken(f"the phones hang\n{self.server.last_words()}") from None
        if not line:
            self.errors.seek(0)
            raise Broken(self.errors.read().decode()[-4000:])
        return json.loads(line)

    def _tell(self, said: Any) -> None:
        self.phones.stdin.write(json.dumps(said) + "\n")
        self.phones.stdin.flush()

    def run(self, seed: int) -> tuple[list[str], dict[str, Any]]:
        """Run one schedule: what went wrong in it, and what the phones told."""
        self._tell({"seed": seed, "bug": self.bug, "world": self.world})
        wrong: list[str] = []
        while True:
            said = self._hear()
            if "broken" in said:
                raise Broken(f"seed {seed}: {said['broken']}")
            if said.get("ask") == "left":
                self._leave(said["person"], left=said["left"])
            elif said.get("ask") == "look":
                wrong += [f"in the storm: {what}" for what in self.torn()]
            elif said.get("ask") == "quiet":
                self.line.quiet()
                self.server.run("SELECT 1")
            elif said.get("ask") == "restart the server":
                self.server.restart()
            elif "storm" in said:
                wrong += [f"in the storm: {what}" for what in self.check(said["storm"])]
            elif "calm" in said:
                wrong += [
                    f"in the calm: {what}"
                    for what in (
                        *self.check(said["calm"], ended=True),
                        *self.torn_photos(),
                        *self.stray_files(said["calm"]["trail"]),
                    )
                ]
                self._tell(True)
                return wrong, said["calm"]
            self._tell(True)

    def plant(self, bug: str) -> None:
        """Go on with a bug in the server, which has to be found."""
        self.server.surroundings["FAULTS_PLANT"] = bug
        self.server.restart()

    def _leave(self, person: int, *, left: bool) -> None:
        at = "CURRENT_TIMESTAMP" if left else "NULL"
        self.server.run(
            f"UPDATE records_membership SET left_at = {at} WHERE user_id = {person:d}",  # noqa: S608
            reads=False,
        )

    def torn(self) -> list[str]:
        """Return where receipt and effect do not stand together at this very moment."""
        return [
            f"{what}: {rows}"
            for what, query in TORN.items()
            if (rows := self.server.run(query))
        ]

    def torn_photos(self) -> list[str]:
        """Return the photos whose files are not all there, and whole."""
        wrong = []
        for name, size in self.server.run("SELECT name, size_bytes FROM records_photo"):
            folder = self.server.folder_of(name)
            files = {path.name: path.read_bytes() for path in folder.glob("*")}
            if set(files) != FILES or len(files["original"]) != size:
                wrong.append(f"photo {name} has {sorted(files)}")
            elif not all(content.endswith(b"\xff\xd9") for content in files.values()):
                wrong.append(f"a file of photo {name} is cut off")
        return wrong

    def stray_files(self, trail: list[str]) -> list[str]:
        """Return new folders with files that no photo has, where that is a fault."""
        found = self.server.abandoned() - self.strays
        self.strays |= found
        if any(what.startswith(LEAVES_FILES) for what in trail):
            return []
        return [f"files without a photo: {name}" for name in found]

    def set_abandoned_aside(self) -> None:
        """Let the nightly work set aside what deaths have left, no file of a photo."""
        for path in self.server.photos.rglob("*"):
            os.utime(path, (0, 0))
        self.server.manage("nightly")
        assert self.server.abandoned() == set()
        assert self.torn_photos() == []

    def check(self, state: dict[str, Any], *, ended: bool = False) -> list[str]:
        """Hold what phones accepted against what the server has."""
        wrong: list[str] = []
        attempted = [key for phone in state["phones"] for key in phone["attempted"]]
        book = Book(self.server, attempted)
        for phone in state["phones"]:
            wrong += phone_against_book(phone, book, ended=ended)
        return wrong + book.doubled + self.torn()


class Book:
    """What the server has of some entries, read from its tables."""

    def __init__(self, server: Server, keys: list[str]) -> None:
        self.receipts: dict[str, tuple] = {}
        self.doubled: list[str] = []
        for key, kind, subject, by in server.rows_of(
            "SELECT key, kind, subject_id, by_id FROM records_receipt WHERE key IN %s",
            keys,
        ):
            if plain(key) in self.receipts:
                self.doubled.append(f"two receipts of {key}")
            self.receipts[plain(key)] = (kind, subject, by)
        self.looks: dict[str, tuple] = {}
        for number, key, by, code, seen, made in server.rows_of(
            "SELECT i.id, i.key, i.by_id, t.code, i.seen_at, i.made_at FROM"
            " records_inspection i JOIN records_tree t ON t.id = i.tree_id"
            " WHERE i.key IN %s",
            keys,
        ):
            if plain(key) in self.looks:
                self.doubled.append(f"two records of {key}")
            self.looks[plain(key)] = (number, by, code, moment(seen), moment(made))
        self.events: dict[str, tuple] = {}
        notes = ", ".join(f"'{key}'" for key in keys) or "''"
        query = (
            "SELECT h.id, h.note, h.by_id, t.code FROM records_happening h"
            " JOIN records_tree t ON t.id = h.tree_id WHERE h.note IN (%s)"
        )
        for number, key, by, code in server.run(query % notes):
            if key in self.events:
                self.doubled.append(f"two events of {key}")
            self.events[key] = (number, by, code)
        subjects = [s for kind, s, _by in self.receipts.values() if kind == "photo"]
        numbers = ", ".join(map(str, subjects)) or "0"
        query = (
            "SELECT p.id, i.key, p.by_id FROM records_photo p"
            " LEFT JOIN records_photolink l ON l.photo_id = p.id"
            " AND l.inspection_id IS NOT NULL"
            " LEFT JOIN records_inspection i ON i.id = l.inspection_id"
            " WHERE p.id IN (%s)"
        )
        self.photos = {
            number: (plain(parent) if parent else "", by)
            for number, parent, by in server.run(query % numbers)
        }
        if len(subjects) != len(set(subjects)):
            self.doubled.append("one photo has two receipts")


def phone_against_book(phone: dict[str, Any], book: Book, *, ended: bool) -> list[str]:
    wrong: list[str] = []
    held = {entry["key"]: entry for entry in phone["outbox"]}
    accepted = phone["accepted"]
    for key, entry in accepted.items():
        receipt = book.receipts.get(key)
        if receipt is None and key not in held:
            wrong.append(f"LOST: {entry['kind']} {key} is nowhere")
        if key in held and not held[key]["whole"]:
            wrong.append(f"LOST: the bytes of {key} are not whole")
        if ended and receipt is None:
            wrong.append(f"{entry['kind']} {key} never arrived: {held.get(key)}")
        if receipt is not None:
            wrong += entry_against_book(key, entry, receipt, book)
    if ended and held:
        wrong.append(f"the outbox is not empty: {sorted(held)}")
    for person in {entry["person"] for entry in accepted.values()}:
        mine = [
            (entry["order"], book.looks[key][0])
            for key, entry in accepted.items()
            if key in book.looks
            and not entry.get("mended")
            and entry["person"] == person
        ]
        if [number for _o, number in sorted(mine)] != sorted(n for _o, n in mine):
            wrong.append(f"out of order: {sorted(mine)}")
    return wrong


def entry_against_book(
    key: str, entry: dict[str, Any], receipt: tuple, book: Book
) -> list[str]:
    wrong = []
    kind, subject, by = receipt
    if kind != entry["kind"] or by != entry["person"]:
        wrong.append(f"{key} came in as {kind} of {by}, not as {entry}")
    if kind == "inspection" and key in book.looks:
        _number, by, code, seen, made = book.looks[key]
        if by != entry["person"]:
            wrong.append(f"{key} stands under {by}, not under {entry['person']}")
        if code != entry["tree"]:
            wrong.append(f"{key} stands at {code}, not at {entry['tree']}")
        if made != moment(entry["made_at"]):
            wrong.append(f"{key} was made at {entry['made_at']}, not at {made}")
        if "seen_at" in entry:
            off = abs((seen - moment(entry["seen_at"])).total_seconds())
            if off > CLOCK_SECONDS:
                wrong.append(f"{key} was seen at {entry['seen_at']}, not at {seen}")
    if kind == "event":
        event = book.events.get(key)
        if event != (subject, entry["person"], entry["tree"]):
            wrong.append(f"event {key} stands as {event}, not as {entry}")
    if kind == "photo" and subject in book.photos:
        parent, by = book.photos[subject]
        if by != entry["person"] or parent != entry["parent"]:
            wrong.append(f"photo {key} hangs on {parent} of {by}, not on {entry}")
    return wrong


def plain(key: Any) -> str:
    """Write a key as phones write it, whichever way a database gives it."""
    text = str(key).replace("-", "")
    return "-".join((text[:8], text[8:12], text[12:16], text[16:20], text[20:]))


def moment(value: Any) -> datetime:
    read = value if isinstance(value, datetime) else datetime.fromisoformat(value)
    return read if read.tzinfo else read.replace(tzinfo=UTC)
