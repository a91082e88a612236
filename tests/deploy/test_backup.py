"""A backup is one, and a restore proves it: on both databases, by the scripts."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import time
import uuid
from contextlib import closing
from pathlib import Path

import pytest
from django.db import connection

from tests import tables
from tests.deploy.scripts import open_folder, run, settings_file
from tests.faults.server import Server

PHOTO = b"not really a picture"


@pytest.fixture(scope="module")
def book(django_db_setup):
    """A book with an orchard, its database and a photo, and its file of settings."""
    with open_folder() as place:
        server = Server(place / "data", connection.vendor)
        server.seed(people=2, trees=3)
        folder = server.folder_of(uuid.uuid4())
        folder.mkdir(parents=True)
        (folder / "small.jpg").write_bytes(PHOTO)
        server.env_file = settings_file(server.folder, DATABASE_URL=server.url)
        yield server
        server.close()


@pytest.fixture(scope="module")
def backup(book, tmp_path_factory) -> Path:
    """A backup of it."""
    target = tmp_path_factory.mktemp("backups")
    made = run("backup", target, env_file=book.env_file)
    assert made.returncode == 0, made.stderr
    [folder] = target.glob("*Z")
    return folder


@pytest.fixture
def empty(book, tmp_path):
    """An empty place of the same kind, with its file of settings."""
    place = tmp_path / "data"
    if connection.vendor == "sqlite":
        yield settings_file(place)
        return
    name = f"empty_{uuid.uuid4().hex[:12]}"
    book.run(f"CREATE DATABASE {name}", reads=False)
    url = f"{book.url.rpartition('/')[0]}/{name}"
    yield settings_file(place, DATABASE_URL=url)
    book.run(f"DROP DATABASE {name} WITH (FORCE)", reads=False)


def rows_in(file: Path) -> int:
    with closing(sqlite3.connect(file)) as base:
        return base.execute("SELECT count(*) FROM records_tree").fetchone()[0]


def test_a_backup_holds_database_photos_and_key_and_is_nobody_elses(book, backup):
    manifest = json.loads((backup / "manifest.json").read_text())
    assert manifest["tables"]["records_tree"]["rows"] == 3
    assert manifest["tables"]["records_user"]["rows"] == 2
    [(path, size)] = manifest["photos"].items()
    assert size == len(PHOTO)
    assert (backup.parent / "photos" / path).read_bytes() == PHOTO
    assert (backup / "secret-key").read_text() == "k" * 60
    for file in (backup, *backup.iterdir()):
        assert file.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("settings", ["none", "wrong"])
def test_a_database_that_is_not_there_gives_no_backup(tmp_path, settings):
    env_file = tmp_path / "none.env"
    if settings == "wrong":
        env_file = settings_file(tmp_path / "data")
    place = str(tmp_path / "data")
    made = run("backup", tmp_path / "to", env_file=env_file, DATA_DIR=place,
               SECRET_KEY="k" * 60, HTTPS="False")  # fmt: skip
    assert made.returncode != 0
    assert "There is no orchard in the database" in made.stderr
    assert "Backed up" not in made.stdout
    assert list(tmp_path.glob("to/*")) == []
    # Nor does asking make one.
    assert not (tmp_path / "data" / "orchard.sqlite3").exists()


def test_a_database_without_an_orchard_gives_no_backup(tmp_path, empty):
    place = tmp_path / "data"
    values = dict(
        line.split("=", 1) for line in empty.read_text().splitlines() if "=" in line
    )
    tables.set_up(values.get("DATABASE_URL", f"sqlite:///{place / 'orchard.sqlite3'}"))
    made = run("backup", tmp_path / "to", env_file=empty)
    assert made.returncode != 0
    assert "There is no orchard in the database" in made.stderr
    assert list(tmp_path.glob("to/*")) == []


def test_what_is_restored_is_what_was_backed_up(backup, empty):
    place = empty.parent
    (place / "secret-key").unlink()
    restored = run("restore", backup, env_file=empty)
    assert restored.returncode == 0, restored.stderr
    assert "Restored and compared" in restored.stdout
    # It came with the backup, and was not there.
    assert (place / "secret-key").read_text() == "k" * 60
    [photo] = (place / "photos").glob("*/*/small.jpg")
    assert photo.read_bytes() == PHOTO
    again = run("restore", backup, env_file=empty)
    assert again.returncode != 0
    assert "There is data already" in again.stderr
    # What was restored is a book that can be backed up.
    made = run("backup", place / "backups", env_file=empty)
    assert made.returncode == 0, made.stderr


def test_a_photo_that_was_being_written_spoils_no_backup(book, empty, tmp_path):
    folder = book.folder_of(uuid.uuid4())
    folder.mkdir(parents=True)
    try:
        (folder / "small.jpg").write_bytes(PHOTO[:5])
        assert run("backup", tmp_path / "to", env_file=book.env_file).returncode == 0
        [first] = (tmp_path / "to").glob("*Z")
        (folder / "small.jpg").write_bytes(PHOTO)
        time.sleep(1)
        assert run("backup", tmp_path / "to", env_file=book.env_file).returncode == 0
    finally:
        shutil.rmtree(folder)
    restored = run("restore", first, env_file=empty)
    assert restored.returncode == 0, restored.stderr
    path = f"photos/{folder.parent.name}/{folder.name}/small.jpg"
    assert (empty.parent / path).read_bytes() == PHOTO


def test_another_key_is_said_loudly(backup, empty):
    (empty.parent / "secret-key").write_text("another key " * 5)
    restored = run("restore", backup, env_file=empty)
    assert restored.returncode == 0, restored.stderr
    assert "ATTENTION: the secret key here is not the backup's" in restored.stdout


@pytest.mark.skipif(os.geteuid() != 0, reason="Only root gives files away.")
def test_files_belong_to_the_service_and_photos_to_its_web_server(backup, empty):
    place = empty.parent
    service, web_server = 12_345, 23_456
    os.chown(place, service, service)
    place.chmod(0o751)
    (place / "photos").mkdir()
    os.chown(place / "photos", service, web_server)
    (place / "photos").chmod(0o2750)
    (place / "secret-key").unlink()
    assert run("restore", backup, env_file=empty).returncode == 0
    [photo] = (place / "photos").glob("*/*/small.jpg")
    for path in (photo, photo.parent, photo.parent.parent, place / "photos"):
        state = path.stat()
        assert (state.st_uid, state.st_gid) == (service, web_server)
        assert state.st_mode & 0o7777 == (0o644 if path == photo else 0o2750)
    private = [place / "secret-key"]
    if connection.vendor == "sqlite":
        private.append(place / "orchard.sqlite3")
    for path in private:
        state = path.stat()
        assert (state.st_uid, state.st_gid) == (service, service)
        assert state.st_mode & 0o7777 == 0o600


def damaged(backup: Path, to: Path) -> Path:
    """Copy a backup and the photos beside it, to be damaged."""
    shutil.copytree(backup.parent, to)
    return to / backup.name


@pytest.mark.parametrize("harm", ["cut", "photo", "manifest", "tables"])
def test_a_damaged_backup_is_not_restored(backup, empty, tmp_path, harm):
    copy = damaged(backup, tmp_path / "copy")
    [dump] = copy.glob("orchard.*")
    manifest = copy / "manifest.json"
    if harm == "cut":
        dump.write_bytes(dump.read_bytes()[:-100])
    elif harm == "photo":
        [photo] = copy.parent.glob("photos/*/*/small.jpg")
        photo.unlink()
    elif harm == "manifest":
        manifest.write_text(manifest.read_text()[:-10])
    else:
        listed = json.loads(manifest.read_text())
        listed["tables"]["records_tree"]["sha256"] = "0" * 64
        manifest.write_text(json.dumps(listed))
    restored = run("restore", copy, env_file=empty)
    assert restored.returncode != 0
    assert "Restored" not in restored.stdout
    words = {
        "cut": "The backup is damaged",
        "photo": "The backup is damaged",
        "manifest": "is not a whole backup",
        "tables": "records_tree: 3 rows, other content than in the backup",
    }
    assert words[harm] in restored.stderr
    assert not (empty.parent / "orchard.sqlite3").exists()
    assert not (empty.parent / "photos").exists()


def test_the_drill_restores_a_backup_and_leaves_nothing(book, tmp_path):
    tried = run("drill", env_file=book.env_file, TMPDIR=str(tmp_path))
    assert tried.returncode == 0, tried.stderr
    assert "The restore works: the backup holds the book." in tried.stdout
    assert list(tmp_path.iterdir()) == []
    if connection.vendor == "postgresql":
        names = [name for (name,) in book.run("SELECT datname FROM pg_database")]
        assert [name for name in names if "drill" in name] == []


def test_the_drill_tries_the_newest_backup_and_says_when_it_is_none(
    book, backup, tmp_path
):
    target = damaged(backup, tmp_path / "copy").parent
    tried = run("drill", target, env_file=book.env_file)
    assert tried.returncode == 0, tried.stderr
    newest = target / "2999-01-01T000000Z"
    shutil.copytree(target / backup.name, newest)
    (newest / "manifest.json").unlink()
    tried = run("drill", target, env_file=book.env_file)
    assert tried.returncode != 0
    assert "is not a whole backup" in tried.stderr
    assert "The restore works" not in tried.stdout
    assert {path.name for path in target.iterdir()} == {
        "photos",
        backup.name,
        newest.name,
    }


def test_the_drill_empties_the_database_it_was_given_and_no_other(book, backup, empty):
    if connection.vendor != "postgresql":
        pytest.skip("SQLite needs no database of its own for it.")
    [url] = [
        line.split("=", 1)[1]
        for line in empty.read_text().splitlines()
        if line.startswith("DATABASE_URL=")
    ]
    for _turn in range(2):
        tried = run(
            "drill", backup.parent, env_file=book.env_file, DRILL_DATABASE_URL=url
        )
        assert tried.returncode == 0, tried.stderr
    # The book itself is no empty place: nothing is restored, and nothing emptied.
    tried = run(
        "drill", backup.parent, env_file=book.env_file, DRILL_DATABASE_URL=book.url
    )
    assert tried.returncode != 0
    assert "There is data already" in tried.stderr
    assert book.run("SELECT count(*) FROM records_tree") == [(3,)]


def test_old_backups_and_unfinished_ones_go_and_the_newest_stay(book, tmp_path):
    for name in ("2020-01-01T000000Z", "2020-01-02T000000Z", "2020-01-03T000000Z.part"):
        (tmp_path / name).mkdir()
    (tmp_path / "of somebody else").mkdir()
    made = run("backup", tmp_path, "--keep", "2", env_file=book.env_file)
    assert made.returncode == 0, made.stderr
    left = sorted(path.name for path in tmp_path.iterdir())
    assert left[0] == "2020-01-02T000000Z"
    assert left[2:] == ["of somebody else", "photos"]


def test_what_a_database_left_beside_itself_is_not_taken_for_part_of_another(
    backup, empty
):
    if connection.vendor != "sqlite":
        pytest.skip("Only SQLite has files beside its own.")
    stale = [
        empty.parent / f"orchard.sqlite3{ending}"
        for ending in ("-wal", "-shm", "-journal")
    ]
    for file in stale:
        file.write_bytes(b"stale")
    restored = run("restore", backup, env_file=empty)
    assert restored.returncode != 0
    assert "There is data already" in restored.stderr
    for file in stale:
        assert str(file) in restored.stderr
        file.unlink()
    assert run("restore", backup, env_file=empty).returncode == 0
    assert rows_in(empty.parent / "orchard.sqlite3") == 3
