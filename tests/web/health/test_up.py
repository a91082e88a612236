from __future__ import annotations

from collections import namedtuple

import pytest
from django.db import DatabaseError, connection
from django.urls import reverse

from orchard.records.models import SignInTry
from orchard.services import outages
from tests.mishaps import folder_away, read_only_database

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


def files_in(folder) -> list:
    return [path for path in folder.rglob("*") if path.is_file()]


def answer_of(client) -> tuple[int, bytes]:
    response = client.get(reverse("up"))
    assert not response.cookies
    return response.status_code, response.content


def test_the_health_check_reads_and_writes_and_leaves_nothing(client, settings):
    assert answer_of(client) == (200, b"ok\n")
    assert not SignInTry.objects.exists()
    assert files_in(settings.MEDIA_ROOT) == []


def test_a_database_that_does_not_answer_is_told_without_details(client, monkeypatch):
    def gone():
        raise DatabaseError("password authentication failed for user orchard")

    with monkeypatch.context() as patched:
        patched.setattr(connection, "cursor", gone)
        assert answer_of(client) == (503, b"down\n")


def test_a_database_that_takes_no_change_is_told(client):
    with read_only_database():
        assert answer_of(client) == (503, b"read only\n")
    assert answer_of(client) == (200, b"ok\n")


def test_a_folder_that_takes_no_photo_is_told(client, settings):
    with folder_away(settings.MEDIA_ROOT):
        assert answer_of(client) == (503, b"read only\n")
    assert answer_of(client) == (200, b"ok\n")


def test_a_disk_that_is_nearly_full_is_told(client, settings, monkeypatch):
    usage = namedtuple("usage", "total used free")
    free = outages.LEAST_ROOM - 1
    monkeypatch.setattr(
        outages.shutil, "disk_usage", lambda path: usage(2 * free, free, free)
    )
    assert answer_of(client) == (503, b"read only\n")
    assert files_in(settings.MEDIA_ROOT) == []
