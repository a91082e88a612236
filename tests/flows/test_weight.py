"""On a weak signal: what the pages at the tree weigh, with all that they load.

Counted is what the browser asks for until the page stands: the page itself, styles,
scripts and pictures. The outbox comes behind it and is held to a limit of its own; what
the worker fetches later, in quiet moments, is no part of opening a page. Pages come
compressed by our own server; static files are counted as the production server sends
them, each compressed by itself where that makes it smaller.
"""

from __future__ import annotations

import gzip
from dataclasses import dataclass, field
from io import BytesIO

import pytest
from django.urls import reverse
from playwright.sync_api import expect
from whitenoise.compress import Compressor

from orchard.records.models import Photo, Tag
from orchard.science import guide
from orchard.services import photos
from orchard.services.photos.library import PAGE
from tests import camera
from tests.conftest import NOW, PASSWORD
from tests.flows.conftest import DESK, PHONE, opened, sign_in
from tests.web.test_who_may import make_photo

pytestmark = pytest.mark.on_sqlite

KB = 1000
# The form carries every sign with its questions, so that it works without signal: a
# quarter of a kilobyte for each that grows here, and the rest of the page once.
FORM, EACH_SIGN, TAG = 15 * KB, 250, 50 * KB
# What shrinks photos lies in a file of its own, for forms that no outbox keeps.
BEHIND = 25.5 * KB
# With the pictures of a whole page, as large as a desk shows them.
LIBRARY = 400 * KB
# The browser's own account of what it had asked for when the page stood.
FIRST = """() => {
  const [page] = performance.getEntriesByType("navigation");
  return performance.getEntriesByType("resource")
    .filter((one) => one.startTime <= page.loadEventStart).map((one) => one.name);
}"""


@dataclass
class Scale:
    """What came over the line for one page, in bytes by address."""

    weights: dict[str, int] = field(default_factory=dict)
    first: set[str] = field(default_factory=set)

    def weigh(self, response) -> None:
        path = path_of(response.url)
        if path in self.weights:
            return
        body = response.body()
        if path.startswith("static/"):
            packs = Compressor().should_compress(path)
            packed = gzip.compress(body, 6) if packs else body
            self.weights[path] = min(len(packed), len(body))
        else:
            self.weights[path] = response.request.sizes()["responseBodySize"]

    def total(self, *, first: bool) -> int:
        return sum(
            size for path, size in self.weights.items() if (path in self.first) is first
        )

    def told(self) -> str:
        heaviest = sorted(self.weights.items(), key=lambda one: -one[1])
        lines = [
            f"{size:7} {'first ' if path in self.first else 'behind'} {path}"
            for path, size in heaviest
        ]
        totals = f"{self.total(first=True)} first, {self.total(first=False)} behind"
        return "\n".join([totals, *lines])


def path_of(address: str) -> str:
    return address.split("/", 3)[-1]


@pytest.fixture
def scale(browser, live_server):
    """Open a page once for the first time: nothing of it is on the phone."""

    def weigh(address: str, *, user=None, shows: str, viewport=PHONE) -> Scale:
        cookies = []
        if user is not None:
            with opened(browser, base_url=live_server.url, viewport=PHONE) as context:
                sign_in(context.new_page(), user, PASSWORD)
                cookies = context.cookies()
        with opened(browser, base_url=live_server.url, viewport=viewport) as context:
            context.add_cookies(cookies)
            page = context.new_page()
            page.add_init_script("delete Navigator.prototype.serviceWorker;")
            came = []
            page.on("response", lambda response: came.append(response))
            page.goto(address)
            expect(page.locator(shows)).to_be_attached()
            page.wait_for_load_state("networkidle")
            first = {path_of(one) for one in page.evaluate(FIRST)}
            scale = Scale(first=first | {path_of(page.url)})
            for response in came:
                scale.weigh(response)
        return scale

    return weigh


def test_the_form_at_the_tree_is_light(scale, tree, vera):
    address = reverse("inspection-new", args=["alderbrook", tree.code])
    came = scale(address, user=vera, shows="form[data-inspection]")
    assert came.weights[address.lstrip("/")] > KB, "the page itself was not counted"
    for needed in ("css/inspections.css", "js/main.js", "js/inspections/form.js"):
        assert f"static/{needed}" in came.first, f"{needed} was not counted"
    signs = guide.load().signs.values()
    limit = FORM + EACH_SIGN * sum(
        bool({"citrus", "any"} & set(sign.hosts)) for sign in signs
    )
    assert came.total(first=True) <= limit, came.told()
    assert 0 < came.total(first=False) <= BEHIND, came.told()


def test_the_public_page_of_a_tag_is_light(scale, tree):
    tag = Tag.objects.create(tree=tree, token="t" * 22, made_at=NOW)
    came = scale(reverse("tag", args=[tag.token]), shows="dl.facts")
    assert any(path.endswith(".css") for path in came.weights)
    assert came.total(first=True) + came.total(first=False) < TAG, came.told()


def test_the_library_is_light(scale, orchard, tree, lee, tmp_path, settings):
    """A whole page of photos that came from a camera of 12 million pixels."""
    settings.MEDIA_ROOT = tmp_path / "photos"
    scenes = [photos.read_picture(BytesIO(camera.photo(seed))) for seed in (1, 2)]
    for number in range(PAGE):
        photo = make_photo(orchard, tree, lee, settings.MEDIA_ROOT)
        small = settings.MEDIA_ROOT / photos.path_of(photo.name, "small")
        small.write_bytes(scenes[number % 2].sizes["small"])
    Photo.objects.update(width=camera.WIDTH, height=camera.HEIGHT)
    address = reverse("photos", args=["alderbrook"])
    came = scale(address, user=lee, shows=".photo-grid", viewport=DESK)
    pictures = [path for path in came.weights if path.endswith("/small/")]
    assert len(pictures) == PAGE, came.told()
    assert came.weights[address.lstrip("/")] > KB, "the page itself was not counted"
    assert came.total(first=True) + came.total(first=False) <= LIBRARY, came.told()
