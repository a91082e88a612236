"""A real browser: Chromium from the system, at phone and at desk size."""

from __future__ import annotations

import os
import re
import shutil
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.test import Client
from PIL import Image
from playwright.sync_api import Error, expect

from tests.faults.afield import ENTRIES
from tests.services.photos.test_photos import GPS, camera_exif, image
from tests.web.test_who_may import things  # noqa: F401

# Playwright runs an event loop in this thread; the test's own queries are safe.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"

# The same engine without a window round it takes half the work.
CHROMIUM = (
    shutil.which("chromium-headless-shell")
    or shutil.which("chromium")
    or shutil.which("chromium-browser")
)
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]
# A busy machine is slow, not wrong: what is expected may take its time.
expect.set_options(timeout=20_000)
QUALITY = Path(__file__).resolve().parent.parent / "quality" / "node_modules"

PHONE = {"width": 390, "height": 844}
NARROW = {"width": 320, "height": 640}
DESK = {"width": 1280, "height": 900}
TREE = "/alderbrook/trees/A-1/"
FORM = f"{TREE}inspections/new/"
SHOTS = os.environ.get("ORCHARD_SHOTS")


def pytest_collection_modifyitems(items):
    for item in items:
        if "/flows/" in str(item.path):
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.django_db(transaction=True))


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    if CHROMIUM is None:
        if os.environ.get("ORCHARD_ALL_PARTS"):
            pytest.fail("Chromium is not installed.")
        pytest.skip("Chromium is not installed.")
    return {**browser_type_launch_args, "executable_path": CHROMIUM, "args": FLAGS}


@pytest.fixture(scope="session", autouse=True)
def files_last():
    """Let a browser keep styles and scripts that it has, as in production.

    There their names change with what is in them; here nothing changes while tests run.
    """
    serve = StaticFilesHandler.serve

    def serve_to_keep(handler, request):
        answer = serve(handler, request)
        answer["Cache-Control"] = "max-age=3600"
        return answer

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(StaticFilesHandler, "serve", serve_to_keep)
        yield


@contextmanager
def opened(browser, **how):
    """Open a browser for one person, and close it for certain.

    A page that is on its way to another can outlive the closing of its context, and
    Chromium then never answers that it is closed. So every page stands still first.
    """
    context = browser.new_context(**how)
    try:
        yield context
    finally:
        for page in context.pages:
            stand_still(page)
        context.close()


def wait_in(file: str, pattern: str) -> int:
    """Read from the book's own scripts and pages how long something waits."""
    [number] = re.findall(pattern, (settings.BASE_DIR / file).read_text())
    return int(number)


# In milliseconds: until pages come along, until a store counts as silent, and until a
# round that is watched is asked again.
QUIET = wait_in("static/js/outbox/kept.js", r"\bQUIET = (\w+);")
STORE_PATIENCE = wait_in("static/js/outbox/base.js", r"\bPATIENCE = (\w+);")
WATCHED = 1000 * wait_in("templates/rounds/_live.html", r"every (\d+)s")


def hurry(place, wait: int = QUIET, *, to: int = 300) -> None:
    """Let a browser, or a page, wait a shorter time where the book waits so long."""
    place.add_init_script(f"""{{
      const later = setTimeout;
      globalThis.setTimeout = (work, after, ...rest) => (
        later(work, after === {wait} ? {to} : after, ...rest));
    }}""")


def opened_afield(browser, live_server):
    """Open a phone that keeps pages, whose signal a test takes away and gives back."""
    return opened(
        browser,
        base_url=live_server.url,
        viewport=PHONE,
        has_touch=True,
        is_mobile=True,
        service_workers="allow",
    )


def go(page, path: str, *, tries: int = 5) -> None:
    """Open a page, also from one that is just going somewhere itself.

    What was kept without signal leads on to the next page a moment later, and a browser
    then gives up one of the two journeys: most often that which began first, and says
    so; now and then this one, and says nothing.
    """
    for _try in range(tries):
        try:
            page.goto(path, timeout=15_000)
        except Error as error:
            if not re.search("ERR_ABORTED|interrupted|Timeout", str(error)):
                raise
            page.wait_for_timeout(300)
        else:
            return
    pytest.fail(f"{path} does not open")


def stand_still(page, *, tries: int = 5) -> None:
    """Take a page to an empty one, also when it is just going somewhere itself."""
    for _try in range(tries):
        try:
            page.goto("about:blank")
        except Error:
            page.wait_for_timeout(300)
        else:
            return
    pytest.fail(f"{page.url} does not stand still")


@pytest.fixture
def phone(browser, live_server):
    """A phone in somebody's hand, with touch."""
    with opened(
        browser,
        base_url=live_server.url,
        viewport=PHONE,
        has_touch=True,
        is_mobile=True,
    ) as context:
        page = context.new_page()
        watch(page)
        yield page
    assert not page.complaints, page.complaints


@pytest.fixture
def desk(browser, live_server):
    """A screen on a desk."""
    with opened(browser, base_url=live_server.url, viewport=DESK) as context:
        page = context.new_page()
        watch(page)
        yield page
    assert not page.complaints, page.complaints


def watch(page) -> None:
    """Note every complaint of the browser: script errors and refused policies."""
    page.complaints = []
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.on(
        "console",
        lambda line: (
            page.complaints.append(line.text)
            if line.type == "error" and "status of 4" not in line.text
            else None
        ),
    )


def sign_in(page, user, password) -> None:
    """Sign in by the form, as a person does."""
    page.goto("/sign-in/")
    page.fill("input[name=email]", user.email)
    page.fill("input[name=password]", password)
    page.press("input[name=password]", "Enter")
    page.wait_for_load_state()


def signed_in(page, user) -> None:
    """Let a browser be that of somebody who signed in before."""
    client = Client()
    client.force_login(user)
    name = settings.SESSION_COOKIE_NAME
    here = {"name": name, "value": client.cookies[name].value}
    page.context.add_cookies([{**here, "domain": "localhost", "path": "/"}])


def sign_out(page) -> None:
    """Sign out by the menu, as a person does."""
    page.locator("summary", has_text="Menu").click()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/")


class Thumb:
    """The only way a flow touches a page, so that no tap goes uncounted."""

    def __init__(self, page) -> None:
        self.page = page
        self.taps = 0

    def tap(self, target) -> None:
        target.tap()
        self.taps += 1

    def photograph(self, target, photo) -> None:
        """Open the camera from a field and come back with a photo.

        The camera's shutter is no tap of ours; whoever counts it, adds it.
        """
        with self.page.expect_file_chooser() as opened:
            self.tap(target)
        opened.value.set_files(photo)


def tile(page, name: str, value: str):
    """Return the tile of an answer: what a finger meets, not the field inside it."""
    field = page.locator(f'input[name="{name}"][value="{value}"]')
    return page.locator("label.tile", has=field)


def touch(target) -> None:
    """Scroll what is wanted clear of the bar of buttons, as people do, and touch it."""
    target.evaluate("(it) => it.scrollIntoView({ block: 'center' })")
    target.click()


def answer_more(page, name: str, value: str) -> None:
    """Answer one more question of a sign, where its verdict stands already."""
    sign, _colon, fact = name.partition(":")
    page.locator(f'[data-sign="{sign}"] [data-asks="{fact}"]').click()
    tile(page, name, value).click()


def write_note(page, text: str) -> None:
    """Write a note on the whole look."""
    page.get_by_role("button", name="Condition, note, tasks done").click()
    page.get_by_text("Note, growth stage, another day").click()
    page.fill("#note", text)


def card_came(page, sign: str) -> None:
    """Wait for the card of a chosen sign: until then what stands below it may move."""
    expect(page.locator(f'[data-sign="{sign}"] [data-do]')).to_be_attached()


def until(page, holds, *, seconds: int = 15) -> None:
    """Let the browser go on until something holds in the book, or on a page.

    A page that is just going somewhere has no answer: it is asked again where it
    stands.
    """
    for _turn in range(seconds * 10):
        try:
            if holds():
                return
        except Error as error:
            if "context was destroyed" not in str(error):
                raise
        page.wait_for_timeout(100)
    pytest.fail(f"{holds} does not hold after {seconds} s")


@pytest.fixture
def camera_photo(tmp_path) -> Path:
    """A photo as a phone's camera writes it: lying on its side, and with its place."""
    path = tmp_path / "IMG_0042.jpg"
    image(1200, 800).save(path, "JPEG", quality=90, exif=camera_exif(orientation=6))
    held = Image.open(path).getexif()
    assert held.get_ifd(GPS), "the test's own photo carries no place"
    return path


@pytest.fixture
def own_store(settings, tmp_path) -> Path:
    """Photos of a test go to a folder of its own."""
    settings.MEDIA_ROOT = tmp_path / "photos"
    return settings.MEDIA_ROOT


@pytest.fixture
def context(browser, live_server):
    """A phone whose signal the test takes away and gives back."""
    with opened_afield(browser, live_server) as context:
        yield context


@pytest.fixture
def page(context, vera, tree, own_store):
    """Vera's phone after the shed: signed in, the tree and its form opened once."""
    page = context.new_page()
    page.broken = []
    page.on("pageerror", lambda fault: page.broken.append(str(fault)))
    signed_in(page, vera)
    go(page, TREE)
    settled(page)
    # The first page came before the worker, and asks to be kept once that is there.
    kept(page, TREE)
    go(page, FORM)
    expect(page.locator("form[data-outbox]")).to_be_visible()
    kept(page, FORM)
    yield page
    assert not page.broken, page.broken


def all_sent(page):
    """Wait until the outbox says so itself: before it is read it is empty too."""
    expect(page.get_by_text("Nothing is waiting.")).to_be_visible(timeout=30000)


def shot(page, name):
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/{name}.png")


def fits(page, name):
    """See that a screen fits in every width, and take its picture in each."""
    for size in (NARROW, DESK, PHONE):
        page.set_viewport_size(size)
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
        shot(page, f"{name}-{size['width']}")


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
          for (let n = 0; n < 400; n += 1) {
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
    tile(page, name, value).click()


def note_sucker(page):
    """Answer all that is asked of a sucker, until its verdict stands there."""
    page.fill("#word", "sucker")
    tap(page, "sign", "sucker")
    tap(page, "sucker:graft", "below")
    answer_more(page, "sucker:woody", "no")
    expect(page.locator('[data-sign="sucker"] [data-said]')).to_contain_text("Act")


def entries(page):
    """Read the outbox, also from a page that is just going on to the next."""
    for _try in range(5):
        try:
            return page.evaluate(ENTRIES)
        except Error as error:
            if "context was destroyed" not in str(error):
                raise
            page.wait_for_load_state()
    pytest.fail("The page does not stand still.")
