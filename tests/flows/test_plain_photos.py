"""Photos of forms that no outbox keeps: made smaller before they go, or as they are.

Closing many tasks at once, a sheet of paper and corrections are sent by the browser.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime

import pytest
from PIL import Image
from playwright.sync_api import expect

from orchard.records.models import Closure, Photo
from tests.conftest import TODAY, make_tree
from tests.flows.conftest import signed_in
from tests.services.photos.test_photos import camera_exif, heic
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.on_sqlite

WIDTH, HEIGHT = 3000, 2000
LONGEST = 2048


@pytest.fixture
def large_photo(tmp_path):
    """A photo of several megabytes, lying on its side, with moment and place."""
    path = tmp_path / "IMG_0043.jpg"
    scene = Image.effect_noise((WIDTH, HEIGHT), 60).convert("RGB")
    scene.save(path, "JPEG", quality=95, exif=camera_exif(orientation=6))
    assert path.stat().st_size > 2_000_000
    return path


def at_many(phone, person) -> None:
    """Come to the page that closes all tasks of the board at once."""
    signed_in(phone, person)
    phone.goto("/alderbrook/board/")
    for box in phone.locator(".group-line").get_by_role("checkbox").all():
        box.check()
    phone.get_by_role("button", name="Close tasks").click()
    expect(phone.locator('input[type="file"]')).to_be_attached()


def test_a_photo_for_many_tasks_is_made_smaller_and_keeps_its_moment(
    phone, own_store, orchard, tree, cora, large_photo
):
    rows = [make_task(tree), make_task(make_tree(orchard, "B-1"))]
    at_many(phone, cora)
    phone.wait_for_load_state()
    # Who is quicker than the script sends the photo as it was chosen.
    phone.evaluate("import('/static/js/plain_photos.js').then(() => {})")
    phone.set_input_files('input[type="file"]', large_photo)
    # At once: the form waits until its photo is ready.
    phone.locator("form button.primary").click()
    expect(phone.locator(".notice.done")).to_contain_text("2 tasks closed.")
    photo = Photo.objects.get()
    assert {closure.task for closure in photo.closures.all()} == set(rows)
    assert (photo.height, photo.width) == (LONGEST, round(LONGEST * HEIGHT / WIDTH))
    assert photo.size_bytes < large_photo.stat().st_size / 2
    # As the camera said it: 17:20:05, two hours before UTC.
    assert photo.taken_at == datetime(2026, 5, 11, 15, 20, 5, tzinfo=UTC)


def test_a_photo_that_the_phone_cannot_read_is_sent_as_it_is(
    phone, own_store, tree, cora, vera, tmp_path
):
    task = make_task(tree)
    path = tmp_path / "IMG_0044.heic"
    path.write_bytes(heic().getvalue())
    signed_in(phone, cora)
    phone.goto(f"/alderbrook/tasks/{task.pk}/closure/?for={vera.pk}&on={TODAY}")
    phone.set_input_files('input[type="file"]', path)
    phone.get_by_role("button", name="Close task").click()
    phone.wait_for_url(lambda url: "/closure/" not in url)
    photo = Photo.objects.get()
    assert photo.closures.get() == Closure.objects.get()
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_damaged_photo_comes_to_the_server_and_is_named_there(
    phone, own_store, tree, cora, large_photo
):
    make_task(tree)
    large_photo.write_bytes(large_photo.read_bytes()[:1_000] + b"\0" * 1_000_000)
    at_many(phone, cora)
    phone.set_input_files('input[type="file"]', large_photo)
    phone.locator("form button.primary").click()
    expect(phone.get_by_role("alert").first).to_contain_text("photo")
    assert not Closure.objects.exists()


def test_without_the_script_that_shrinks_it_a_photo_is_sent_as_it_was_chosen(
    phone, own_store, tree, cora, large_photo
):
    make_task(tree)
    phone.route("**/plain_photos*.js", lambda route: route.fulfill(status=404))
    at_many(phone, cora)
    phone.set_input_files('input[type="file"]', large_photo)
    phone.locator("form button.primary").click()
    expect(phone.locator(".notice.done")).to_contain_text("1 task closed.")
    assert Photo.objects.get().size_bytes == large_photo.stat().st_size
