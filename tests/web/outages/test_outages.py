"""A disk or a database that fails is told in words, and nothing typed is lost."""

from __future__ import annotations

import errno
import json
import logging
import re
import uuid
from html import unescape

import pytest
from django import forms
from django.contrib.auth.forms import AdminPasswordChangeForm, PasswordChangeForm
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.urls import reverse

from orchard.records.models import Happening, Inspection, Photo, Receipt
from orchard.web.pages.outages.sent import is_secret
from tests.conftest import NOW, PASSWORD, TODAY
from tests.mishaps import folder_away, read_only_database
from tests.services.photos.test_photos import file as a_photo
from tests.web.test_who_may import INSIDE, NO, things  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)
EVENTS = "/alderbrook/trees/A-1/events/"
STRAYS = "/alderbrook/strays/"
EVENT = {
    "what": "bark_bared",
    "happened_on": TODAY.isoformat(),
    "note": 'North "side" <b>\nand below',
}


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch, settings, tmp_path):
    from orchard.web import doorkeeper

    settings.MEDIA_ROOT = tmp_path / "photos"
    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: NOW)


@pytest.fixture
def served(as_vera) -> Client:
    """Let Vera's pages answer faults as a server does."""
    as_vera.raise_request_exception = False
    return as_vera


def upload() -> SimpleUploadedFile:
    return SimpleUploadedFile("leaf.jpg", a_photo().getvalue(), "image/jpeg")


def text_of(answer) -> str:
    return re.sub(r"\s+", " ", answer.content.decode())


def hidden_fields(answer) -> dict[str, str]:
    html = answer.content.decode()
    found = re.findall(r'<input type="hidden" name="(.*?)" value="(.*?)">', html, re.S)
    return {unescape(name): unescape(value) for name, value in found}


def stray_files(settings) -> list:
    return [path for path in settings.MEDIA_ROOT.rglob("*") if path.is_file()]


def entry_of(vera, *, kind="inspection", **fields) -> dict[str, str]:
    moment = NOW.isoformat()
    entry = {
        "version": 1,
        "key": str(uuid.uuid4()),
        "kind": kind,
        "orchard": "alderbrook",
        "person": vera.pk,
        "made_at": moment,
        "sent_at": moment,
        "fields": fields,
    }
    return {"entry": json.dumps(entry)}


def test_a_form_is_kept_while_the_database_is_read_only(served, tree, caplog):
    with read_only_database(), caplog.at_level(logging.ERROR, "django.request"):
        answer = served.post(EVENTS, EVENT)
    assert answer.status_code == 503
    assert answer["Retry-After"] == "30"
    assert "no-store" in answer["Cache-Control"]
    page = text_of(answer)
    assert "The server can't save anything now." in page
    assert "Nothing of what you sent was saved." in page
    assert f'action="{EVENTS}"' in page
    # The operator finds where it happened.
    assert any(record.exc_info for record in caplog.records)
    assert not Happening.objects.exists()
    kept = hidden_fields(answer)
    assert kept.pop("csrfmiddlewaretoken")
    assert kept == EVENT
    assert served.post(EVENTS, kept).status_code == 302
    assert Happening.objects.get().note.splitlines() == EVENT["note"].splitlines()


def test_the_kept_form_passes_the_guard_against_forgeries(vera, tree):
    client = Client(enforce_csrf_checks=True, raise_request_exception=False)
    client.force_login(vera)
    client.get(EVENTS)
    token = client.cookies["csrftoken"].value
    with read_only_database():
        answer = client.post(EVENTS, {**EVENT, "csrfmiddlewaretoken": token})
    assert answer.status_code == 503
    assert client.post(EVENTS, hidden_fields(answer)).status_code == 302


def test_files_are_asked_for_again(served, tree, settings):
    with folder_away(settings.MEDIA_ROOT):
        answer = served.post(STRAYS, {"photos": [upload(), upload()], "round": ""})
    assert answer.status_code == 503
    page = text_of(answer)
    assert "Choose again: leaf.jpg, leaf.jpg" in page
    assert re.search(r'<input type="file" id="[\w-]+" name="photos" multiple>', page)
    assert "multipart/form-data" in page
    assert not Photo.objects.exists()
    assert stray_files(settings) == []
    again = {"photos": [upload()], **hidden_fields(answer)}
    assert served.post(STRAYS, again).status_code == 302
    assert Photo.objects.count() == 1


@pytest.mark.parametrize("saved", range(4))
@pytest.mark.parametrize(
    ("number", "said"),
    [
        (errno.ENOSPC, "The server's disk is full."),
        (errno.EDQUOT, "The server's disk is full."),
        (errno.EROFS, "The server can't save anything now."),
        (errno.EACCES, "The server can't save anything now."),
        (errno.EMFILE, "The server is busy."),
    ],
)
def test_a_photo_that_cannot_be_written_leaves_nothing(
    served, tree, settings, monkeypatch, number, said, saved
):
    real, names = default_storage._save, []

    def save(name, content):
        names.append(name)
        if len(names) > saved:
            raise OSError(number, "as it says", default_storage.path(name))
        return real(name, content)

    monkeypatch.setattr(default_storage._wrapped, "_save", save)
    answer = served.post(STRAYS, {"photos": [upload()]})
    assert answer.status_code == 503
    assert said in text_of(answer)
    assert stray_files(settings) == []


def test_a_photo_whose_row_cannot_be_written_leaves_no_file(served, tree, settings):
    with read_only_database():
        answer = served.post(STRAYS, {"photos": [upload()]})
        assert stray_files(settings) == []
    assert answer.status_code == 503


def test_a_phone_is_told_to_wait_with_its_record(served, vera, tree):
    sent = entry_of(vera, tree="A-1", form=[["all_well", "1"]])
    with read_only_database():
        answer = served.post("/inbox/", sent)
    assert answer.status_code == 503
    said = answer.json()
    assert (said["answer"], said["retry_after"]) == ("wait", 30)
    assert said["key"] == json.loads(sent["entry"])["key"]
    assert answer["Retry-After"] == "30"
    assert not Inspection.objects.exists()
    assert not Receipt.objects.exists()
    assert served.post("/inbox/", sent).json()["answer"] == "kept"


@pytest.mark.parametrize("mishap", ["folder", "database"])
def test_a_phone_is_told_to_wait_with_its_photo(served, vera, tree, settings, mishap):
    sent = entry_of(vera, kind="photo", inspection="", finding_sign="")
    broken = {
        "folder": lambda: folder_away(settings.MEDIA_ROOT),
        "database": read_only_database,
    }[mishap]
    with broken():
        answer = served.post("/inbox/", {**sent, "file": upload()})
    assert (answer.status_code, answer.json()["answer"]) == (503, "wait")
    assert not Photo.objects.exists()
    assert stray_files(settings) == []
    answer = served.post("/inbox/", {**sent, "file": upload()})
    assert answer.json()["answer"] == "kept"
    assert Photo.objects.count() == 1


def test_a_phone_waits_when_its_photo_does_not_even_arrive(served, vera, settings):
    # A large file is put aside on the disk while it comes in.
    settings.FILE_UPLOAD_MAX_MEMORY_SIZE = 10
    settings.FILE_UPLOAD_TEMP_DIR = "/dev/null"
    sent = entry_of(vera, kind="photo", inspection="")
    answer = served.post("/inbox/", {**sent, "file": upload()})
    assert (answer.status_code, answer.json()["answer"]) == (503, "wait")
    answer = served.post(STRAYS, {"photos": [upload()]})
    assert answer.status_code == 503
    assert "Your browser's Back button leads to the form." in text_of(answer)


def test_signing_in_is_refused_in_words_and_shows_no_password(vera):
    client = Client(raise_request_exception=False)
    sent = {"email": vera.email, "password": PASSWORD, "next": "/alderbrook/"}
    with read_only_database():
        answer = client.post("/sign-in/?next=/alderbrook/", sent)
    assert answer.status_code == 503
    assert PASSWORD not in text_of(answer)
    assert "The server can't save anything now." in text_of(answer)
    assert 'href="/sign-in/?next=/alderbrook/"' in text_of(answer)
    assert "sessionid" not in client.cookies
    assert client.post("/sign-in/", sent).status_code == 302


def test_every_field_of_a_password_is_known_for_one():
    def kinds(of):
        return {of, *(below for kind in of.__subclasses__() for below in kinds(kind))}

    fields = {
        name
        for kind in kinds(forms.BaseForm)
        for name, field in getattr(kind, "base_fields", {}).items()
        if isinstance(field.widget, forms.PasswordInput)
    }
    assert AdminPasswordChangeForm in kinds(forms.BaseForm)
    assert PasswordChangeForm in kinds(forms.BaseForm)
    assert {"password", "old", "again", "old_password"} <= fields
    assert [name for name in fields if not is_secret(name)] == []


def test_every_page_opens_while_the_database_is_read_only(things):  # noqa: F811
    client = Client()
    broken = {}
    cora = things.people["C"]
    vera = things.people["V"]
    for row in INSIDE:
        if row.get == NO:
            continue
        client.force_login(cora if "C" in row.get else vera)
        address = reverse(row.name, args=["alderbrook", *row.args(things)])
        with read_only_database():
            status = client.get(address).status_code
        if status not in (200, 302, 404):
            broken[row.label] = status
    assert broken == {}


def test_a_page_that_cannot_be_read_offers_to_try_again(served, tree, monkeypatch):
    from django.db.backends.base.base import BaseDatabaseWrapper
    from django.db.utils import OperationalError

    def away(self):
        raise OperationalError("connection refused")

    connection.close()
    with monkeypatch.context() as broken:
        broken.setattr(BaseDatabaseWrapper, "connect", away)
        answer = served.get("/alderbrook/trees/?text=A")
        sent = served.post(EVENTS, EVENT)
        greeting = served.get("/inbox/")
    assert answer.status_code == 503
    assert "This page can't be shown now" in text_of(answer)
    assert 'href="/alderbrook/trees/?text=A"' in text_of(answer)
    assert sent.status_code == 503
    assert "What you sent may be saved or not." in text_of(sent)
    assert hidden_fields(sent)["note"] == EVENT["note"]
    assert (greeting.status_code, greeting.json()["answer"]) == (503, "wait")


def test_a_fault_of_the_program_stays_one(served, tree, monkeypatch):
    def crash(*args, **kwargs):
        raise RuntimeError("a bug that nobody foresaw")

    monkeypatch.setattr(Happening, "save", crash)
    answer = served.post(EVENTS, EVENT)
    assert answer.status_code == 500
    assert "Something broke on our side" in text_of(answer)
