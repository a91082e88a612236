"""The worker, the manifest and the two shells: the same for everybody, and complete."""

from __future__ import annotations

import json
import re
import uuid
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from posixpath import normpath

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.templatetags.static import static
from django.test import override_settings
from django.utils import timezone
from PIL import Image

from orchard.records.models import Photo
from orchard.science import guide
from orchard.web.pages.inbox import entries
from orchard.web.pages.offline import views
from tests.services.tasks.test_tasks import make_task

BASE = Path(settings.BASE_DIR)
SHELLS = ("/outbox/", "/offline/")


def settings_of(script: str) -> dict:
    found = re.search(
        r"const \{ version, files, shells, drawings \} = (\{.*\});", script
    )
    assert found, script[:400]
    return json.loads(found.group(1))


def test_the_worker_is_a_script_that_is_asked_for_anew_each_time(client):
    answer = client.get("/worker.js")
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/javascript")
    assert "no-cache" in answer["Cache-Control"]
    # A classic script: modules as workers are younger than many phones.
    assert not re.search(r"^(import|export) ", answer.content.decode(), re.MULTILINE)


def test_the_worker_knows_every_file_that_pages_load(as_vera, tree):
    files = settings_of(as_vera.get("/worker.js").content.decode())["files"]
    assert len(files) == len(set(files)) > 15
    pages = [
        "/alderbrook/",
        "/alderbrook/trees/A-1/",
        "/alderbrook/trees/A-1/inspections/new/",
        *SHELLS,
    ]
    wanted = set()

    def follow(url):
        if url in wanted:
            return
        wanted.add(url)
        text = Path(finders.find(url.removeprefix("/static/"))).read_text()
        for other in re.findall(r'(?:from |import\()"(\.[^"]+)"', text):
            follow(normpath(f"{Path(url).parent}/{other}"))

    for page in pages:
        html = as_vera.get(page).content.decode()
        for url in re.findall(r'(?:href|src)="(/static/[^"]+\.(?:css|js))"', html):
            if "/django_htmx/" not in url:
                follow(url)
    assert "/static/js/outbox/start.js" in wanted
    assert wanted <= set(files), wanted - set(files)


def test_all_drawings_lie_in_one_file_that_the_worker_keeps(client):
    kept = settings_of(client.get("/worker.js").content.decode())
    drawings = kept["drawings"]
    assert drawings["pack"] in kept["files"]
    pack = json.loads(
        Path(finders.find(drawings["pack"].removeprefix("/static/"))).read_text()
    )
    assert set(drawings["names"].values()) == set(pack)
    for sign in guide.load().signs.values():
        url = static(f"img/signs/{sign.key}.svg")
        path = Path(finders.find(url.removeprefix("/static/")))
        assert pack[drawings["names"][url]] == path.read_text()


def test_the_worker_keeps_hashed_names_where_files_are_hashed(client, tmp_path):
    storages = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "orchard.web.statics.HashedStorage"},
    }
    with override_settings(STATIC_ROOT=tmp_path, STORAGES=storages, DEBUG=False):
        call_command("collectstatic", interactive=False, verbosity=0)
        script = client.get("/worker.js").content.decode()
        files = settings_of(script)["files"]
        assert files
        for url in files:
            assert re.search(r"\.[0-9a-f]{12}\.\w+$", url), url
            assert (tmp_path / url.removeprefix("/static/")).exists()
        main = next(url for url in files if "/js/main." in url)
        text = (tmp_path / main.removeprefix("/static/")).read_text()
        # What is fetched behind the page must be found under its hashed name as well.
        assert re.search(r'import\("\./outbox/start\.[0-9a-f]{12}\.js"\)', text), text


def test_another_file_or_another_shell_is_another_version():
    views.version_of.cache_clear()
    one = views.version_of(("/static/a.js",))
    assert one != views.version_of(("/static/b.js",))
    assert re.fullmatch(r"[0-9a-f]{12}", one)


def test_the_manifest_makes_the_book_installable(client):
    answer = client.get("/manifest.webmanifest")
    assert answer["Content-Type"] == "application/manifest+json"
    said = answer.json()
    assert said["display"] == "standalone"
    assert said["start_url"] == said["scope"] == "/"
    assert {icon["sizes"] for icon in said["icons"]} == {"192x192", "512x512"}
    for icon in said["icons"]:
        assert (
            settings.BASE_DIR / "static" / icon["src"].removeprefix("/static/")
        ).exists()
    assert 'rel="manifest"' in client.get("/sign-in/").content.decode()


@pytest.mark.parametrize("url", SHELLS)
def test_a_shell_is_the_same_for_everybody(client, vera, url):
    nobody = client.get(url)
    client.force_login(vera)
    signed_in = client.get(url)
    assert nobody.status_code == 200
    assert nobody.content == signed_in.content
    assert "Vera" not in signed_in.content.decode()
    assert "csrf" not in signed_in.content.decode()
    assert "data-person" not in signed_in.content.decode()


@pytest.mark.parametrize("url", ["/worker.js", "/manifest.webmanifest", *SHELLS])
def test_nothing_of_it_needs_the_database(client, url, db, django_assert_num_queries):
    with django_assert_num_queries(0):
        client.get(url)


def test_a_page_says_whose_it_is_of_which_orchard_and_when(as_vera, tree, vera):
    html = as_vera.get("/alderbrook/trees/A-1/").content.decode()
    body = re.search(r"<body[^>]*>", html).group(0)
    assert f'data-person="{vera.pk}"' in body
    assert 'data-person-name="Vera"' in body
    assert 'data-orchard="alderbrook"' in body
    assert re.search(
        r'data-rendered-at="\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[^"]*[+-]\d\d:\d\d"', body
    ), body
    public = as_vera.get("/sign-in/", follow=True)
    as_vera.logout()
    assert "data-person" not in as_vera.get("/sign-in/").content.decode()
    assert public.status_code == 200


def test_both_forms_of_a_tree_go_through_the_outbox_and_a_correction_does_not(
    as_vera, tree
):
    page = as_vera.get("/alderbrook/trees/A-1/").content.decode()
    assert 'data-outbox="all-well" data-tree="A-1"' in page
    form = as_vera.get("/alderbrook/trees/A-1/inspections/new/").content.decode()
    assert 'data-outbox="inspection" data-tree="A-1"' in form
    as_vera.post("/alderbrook/trees/A-1/all-well/")
    number = re.search(
        r"/alderbrook/inspections/(\d+)/",
        as_vera.get("/alderbrook/trees/A-1/").content.decode(),
    ).group(1)
    correction = f"/alderbrook/inspections/{number}/correction/"
    assert "data-outbox" not in as_vera.get(correction).content.decode()


def test_signing_out_asks_the_browser_to_clear_its_cache_and_nothing_more(as_vera):
    answer = as_vera.post("/sign-out/")
    # "storage" would take the outbox with it.
    assert answer["Clear-Site-Data"] == '"cache"'


def test_phone_server_and_the_proxy_before_it_agree_how_large_a_photo_may_be():
    phone = (BASE / "static" / "js" / "outbox" / "photo.js").read_text()
    assert "MOST_BYTES = 25 * 1024 * 1024;" in phone
    assert settings.PHOTO_MAX_BYTES == 25 * 1024 * 1024
    proxy = (BASE / "deploy" / "nginx.conf").read_text()
    [most] = re.findall(r"client_max_body_size (\d+)m;", proxy)
    # The words of its entry come along.
    assert int(most) * 1024 * 1024 > settings.PHOTO_MAX_BYTES + entries.MOST_TEXT


def test_the_words_of_the_scripts_come_as_a_list(client):
    assert "catalog" in client.get("/words.json").json()


# What only a phone sends


def entry_of(person, kind, fields, **changes) -> dict:
    now = timezone.now().isoformat()
    return {
        "version": 1,
        "key": str(uuid.uuid4()),
        "kind": kind,
        "orchard": "alderbrook",
        "person": person.pk,
        "made_at": now,
        "sent_at": now,
        "fields": fields,
        **changes,
    }


def sent(client, entry, file=None):
    data = {"entry": json.dumps(entry)}
    if file is not None:
        data["file"] = SimpleUploadedFile("leaf.jpg", file, "image/jpeg")
    return client.post("/inbox/", data)


def leaf() -> bytes:
    out = BytesIO()
    Image.new("RGB", (60, 40), "olive").save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


def test_a_shrunk_photo_keeps_the_moment_its_phone_read_from_it(
    as_vera, vera, tree, own_store
):
    taken = timezone.now() - timedelta(hours=5)
    fields = {"inspection": "", "taken_at": taken.isoformat(), "file_name": "leaf.jpg"}
    answer = sent(as_vera, entry_of(vera, "photo", fields), leaf())
    assert answer.json()["answer"] == "kept"
    assert Photo.objects.get().taken_at == taken


def test_a_photo_of_a_phone_whose_clock_is_slow_is_put_right_like_its_record(
    as_vera, vera, tree, own_store
):
    slow = timezone.now() - timedelta(hours=1)
    fields = {"taken_at": slow.isoformat(), "file_name": "leaf.jpg"}
    entry = entry_of(vera, "photo", fields, sent_at=slow.isoformat())
    assert sent(as_vera, entry, leaf()).json()["answer"] == "kept"
    assert abs(Photo.objects.get().taken_at - timezone.now()) < timedelta(minutes=1)


def test_an_unreadable_moment_of_a_photo_is_a_damaged_entry(as_vera, vera, tree):
    entry = entry_of(vera, "photo", {"taken_at": "yesterday"})
    answer = sent(as_vera, entry, leaf())
    assert answer.status_code == 400
    assert answer.json()["answer"] == "refused"


def test_a_page_with_an_older_guide_is_told_so_when_its_record_arrives(
    as_vera, vera, tree
):
    page = as_vera.get("/alderbrook/trees/A-1/inspections/new/").content.decode()
    edition = re.search(r'name="edition" value="([^"]+)"', page).group(1)
    for said, told in ((edition, False), ("an older one", True)):
        form = [["all_well", "1"], ["edition", said]]
        fields = {"tree": "A-1", "form": form}
        answer = sent(as_vera, entry_of(vera, "inspection", fields)).json()
        assert answer["answer"] == "kept"
        assert any("guide" in notice for notice in answer["notices"]) is told


def test_a_deed_the_book_refuses_has_no_page_of_what_became_of_it(as_vera, vera, tree):
    task = make_task(tree)
    form = [["how", "done"], ["units", "metric"], ["done-done_on", "2020-01-01"]]
    fields = {"task": task.pk, "form": form}
    answer = sent(as_vera, entry_of(vera, "closure", fields))
    assert (answer.status_code, answer.json()["answer"]) == (422, "refused")
    # With one the phone would take it for what came in before.
    assert answer.json()["url"] == ""


def test_a_page_that_is_brought_along_does_not_say_what_just_happened(as_vera, tree):
    notice = b"A-1 is all well, seen today."
    as_vera.post("/alderbrook/trees/A-1/all-well/", {"key": uuid.uuid4()})
    page = "/alderbrook/trees/A-1/"
    script = {"Sec-Fetch-Dest": "empty", "Sec-Fetch-Mode": "cors"}
    assert notice not in as_vera.get(page, headers=script).content
    journey = {"Sec-Fetch-Dest": "document", "Sec-Fetch-Mode": "navigate"}
    assert notice in as_vera.get(page, headers=journey).content
    assert notice not in as_vera.get(page, headers=journey).content
