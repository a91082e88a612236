"""A day without signal, on a phone: kept first, sent later, never lost, never twice."""

from __future__ import annotations

import os
from io import BytesIO

import pytest
from PIL import Image
from playwright.sync_api import expect

from orchard.records.models import Inspection, Photo, Receipt
from tests.conftest import PASSWORD
from tests.flows.conftest import PHONE, sign_in

TREE = "/alderbrook/trees/A-1/"
FORM = f"{TREE}inspections/new/"
SHOTS = os.environ.get("ORCHARD_SHOTS")


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


@pytest.fixture
def context(browser, live_server):
    """A phone whose signal the test takes away and gives back."""
    context = browser.new_context(
        base_url=live_server.url,
        viewport=PHONE,
        has_touch=True,
        is_mobile=True,
        device_scale_factor=2,
        service_workers="allow",
    )
    yield context
    context.close()


@pytest.fixture
def page(context, vera, tree):
    """Vera's phone after the shed: signed in, the tree and its form opened once."""
    page = context.new_page()
    page.broken = []
    page.on("pageerror", lambda fault: page.broken.append(str(fault)))
    sign_in(page, vera, PASSWORD)
    settled(page)
    page.goto(TREE)
    page.goto(FORM)
    expect(page.locator("form[data-outbox]")).to_be_visible()
    kept(page, FORM)
    yield page
    assert not page.broken, page.broken


def shot(page, name):
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/{name}.png")


def settled(page):
    """Wait until the worker has the pages in its care."""
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.evaluate(
        """() => navigator.serviceWorker.controller ? true : new Promise((done) =>
        navigator.serviceWorker.addEventListener("controllerchange", done))"""
    )


def kept(page, path):
    page.evaluate(
        """async (path) => {
          for (let n = 0; n < 100; n += 1) {
            if (await caches.match(path, { ignoreVary: true })) return;
            await new Promise((go) => setTimeout(go, 50));
          }
          throw new Error(`${path} is not kept`);
        }""",
        path,
    )


def picture(colour="olive", size=(60, 40), **how) -> bytes:
    out = BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG", **how)
    return out.getvalue()


def tap(page, name, value):
    field = page.locator(f'input[name="{name}"][value="{value}"]')
    page.locator("label.tile", has=field).click()


def note_sucker(page):
    """Answer all that is asked of a sucker, until its verdict stands there."""
    page.fill("#word", "sucker")
    tap(page, "sign", "sucker")
    tap(page, "sucker:graft", "below")
    tap(page, "sucker:woody", "no")
    expect(page.locator('[data-sign="sucker"] [data-said]')).to_contain_text("Act")


def entries(page):
    return page.evaluate(
        """() => new Promise((done, failed) => {
          const opening = indexedDB.open("orchard-outbox");
          opening.onerror = failed;
          opening.onsuccess = () => {
            const base = opening.result;
            const table = base.transaction("entries").objectStore("entries");
            const asked = table.index("seq").getAll();
            asked.onsuccess = () => { base.close(); done(asked.result); };
          };
        })"""
    )


def test_a_look_without_signal_is_kept_and_arrives_once(page, context, tree, vera):
    context.set_offline(True)
    page.goto(FORM)
    note_sucker(page)
    shot(page, "form-offline")
    page.set_input_files(
        "#photos",
        [
            {"name": f"{n}.jpg", "mimeType": "image/jpeg", "buffer": picture(colour)}
            for n, colour in enumerate(("olive", "tan"))
        ],
    )
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("3 waiting since")
    shot(page, "kept-offline")
    assert Inspection.objects.count() == 0
    waiting = entries(page)
    assert [entry["kind"] for entry in waiting] == ["inspection", "photo", "photo"]
    assert waiting[0]["person"] == vera.pk
    assert ["sucker:shown", "act"] in waiting[0]["fields"]["form"]

    page.goto("/outbox/")
    expect(page.locator("[data-entry]")).to_have_count(3)
    shot(page, "outbox-offline")
    context.set_offline(False)
    expect(page.locator("[data-entry]")).to_have_count(0, timeout=15000)
    expect(page.get_by_text("Nothing is waiting.")).to_be_visible()
    shot(page, "outbox-empty")
    inspection = Inspection.objects.get()
    assert inspection.key.hex == waiting[0]["key"].replace("-", "")
    assert Photo.objects.filter(inspection=inspection).count() == 2
    assert Receipt.objects.count() == 3
