"""Nothing that a phone has accepted is lost, doubled or mixed up, whatever dies.

Each schedule is a storm of mishaps, thrown by a seed: lines cut at any byte, answers
lost, late or false, the server killed before, inside and after its transaction, the
database crashed, locked, full or read-only, the folder of photos full or not to be
written, the phone's store full, browsers killed between any two steps, several tabs and
phones at once, sessions and tokens gone, somebody else signed in, an orchard left.
After it, and again after the calm that follows: all that was accepted is on the server
exactly once, or still in the outbox, whole. In the end the outbox is empty, and
everything stands in order, at its time, under its person. Every photo has its files,
whole, and only a death leaves files without a photo.

A schedule that fails is run again by itself with ORCHARD_SEED. With ORCHARD_LONG there
are more than five hundred on both databases together: before a release, and after a
change to the outbox or the inbox.
"""

from __future__ import annotations

import os
import shutil
import uuid

import pytest
from django.db import connection

from tests.faults.schedules import LEAVES_FILES, Schedules
from tests.faults.server import ROOT

pytestmark = pytest.mark.every_database
LONG = bool(os.environ.get("ORCHARD_LONG"))
COUNT = {"sqlite": 25, "postgresql": 25}
if LONG:
    COUNT = {"sqlite": 360, "postgresql": 160}
ONE_SEED = os.environ.get("ORCHARD_SEED")
STORE = ROOT / "tests" / "quality" / "node_modules" / "fake-indexeddb" / "package.json"
# A fault that is planted shows in one storm out of many: they are thrown until it does.
MOST_UNTIL_FOUND = 400


@pytest.fixture(scope="module")
def parts_are_there():
    missing = [
        what
        for what, there in (
            ("node", shutil.which("node")),
            (STORE.name, STORE.exists()),
        )
        if not there
    ]
    if missing and not os.environ.get("ORCHARD_ALL_PARTS"):
        pytest.skip(f"needs node, and npm ci in tests/quality: {missing}")
    assert not missing, missing


@pytest.fixture(scope="module")
def schedules(parts_are_there):
    with Schedules(connection.vendor) as schedules:
        yield schedules


def seeds() -> range:
    if ONE_SEED:
        return range(int(ONE_SEED), int(ONE_SEED) + 1)
    return range(1, 3 * COUNT[connection.vendor] + 1)


# Whether the storms find a fault that is planted is seen once, on one database.
def first_fault(schedules: Schedules) -> str:
    """Run schedules until one of them fails: what was wrong, or nothing."""
    for seed in range(1, MOST_UNTIL_FOUND + 1):
        wrong, told = schedules.run(seed)
        if wrong:
            return f"seed {seed}: {wrong}; what befell it: {told['trail']}"
    return ""


DEATHS = {f"kill@{place}" for place in ("before", "effect", "receipt", "commit")}
CUTS = {"cut-request", "cut-answer", "lose-answer", "late-request", "twice"}
# What comes up in one storm out of a hundred.
RARE = {"full@receipt", "lock@before", "restart@commit", "throttle@before"}


def test_nothing_that_a_phone_accepted_is_lost_or_doubled(schedules):
    accepted, mishaps, times, storms = 0, set(), 0, 0
    for seed in seeds():
        wrong, told = schedules.run(seed)
        assert not wrong, f"seed {seed}: {wrong}; what befell it: {told['trail']}"
        accepted += sum(len(phone["accepted"]) for phone in told["phones"])
        mishaps |= {what.split(":")[0] for what in told["trail"]}
        times += len(told["trail"])
        storms += 1
        if storms >= COUNT[connection.vendor] and not missing_in(mishaps):
            break
    if ONE_SEED:
        return
    # A storm in which nothing happens proves nothing.
    assert accepted > 3 * storms
    assert times > 2 * storms
    assert not missing_in(mishaps)
    schedules.set_abandoned_aside()


def missing_in(mishaps: set[str]) -> set[str]:
    """Name what has not befallen any phone yet, and has to."""
    wanted = DEATHS | CUTS | (RARE if LONG else set())
    kinds = {"readonly", "folder", "full"} - {what.split("@")[0] for what in mishaps}
    photo = set() if {"full@photo", "folder@photo"} & mishaps else {"a photo's disk"}
    return (wanted - mishaps) | kinds | photo


@pytest.mark.on_sqlite
def test_it_is_found_out_when_an_entry_leaves_the_phone_too_early(schedules):
    schedules.bug = "removed first"
    try:
        assert "LOST" in first_fault(schedules)
    finally:
        schedules.bug = ""


@pytest.mark.on_sqlite
@pytest.mark.parametrize("bug", ["receipt first", "receipt last"])
def test_it_is_found_out_when_half_of_it_stands_alone(parts_are_there, bug):
    # On a server of its own: what another bug has left would be found first.
    with Schedules(connection.vendor) as schedules:
        schedules.plant(bug)
        assert "without a" in first_fault(schedules)


@pytest.mark.on_sqlite
def test_it_is_found_out_when_files_stay_without_a_photo(schedules):
    for seed in range(1, MOST_UNTIL_FOUND + 1):
        name = uuid.uuid4().hex
        folder = schedules.server.folder_of(name)
        folder.mkdir(parents=True)
        try:
            (folder / "original").write_bytes(b"left behind")
            wrong, told = schedules.run(seed)
        finally:
            shutil.rmtree(folder)
        if not any(what.startswith(LEAVES_FILES) for what in told["trail"]):
            assert wrong == [f"in the calm: files without a photo: {name}"]
            return
    pytest.fail("a death befell every storm")
