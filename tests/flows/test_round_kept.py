"""A round of sixty trees on a weak line: ready in a quarter of a minute, then at once.

The limits are the product's own promise to whoever stands in the shed before a walk,
so they are held here in seconds of the clock. That is sound, because the line sets the
pace and not the machine: at 1.6 Mbit/s what is carried takes most of the time. The
orchard is the demonstration's, with its years of looks, tasks and photos; files are
served as in production. Counted is all that crosses the line, both ways, with heads and
cookies.
"""

from __future__ import annotations

import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from django.db import connection
from playwright.sync_api import expect

from tests.faults.server import ROOT, Server, copy
from tests.faults.weak_line import WeakLine
from tests.flows.conftest import PHONE, opened, watch

pytestmark = pytest.mark.timed
TREES = 60
BITS_PER_SECOND, THERE_AND_BACK = 1.6e6, 0.150
# The promise is 15 s: 14.6 s on two quiet cores, 11 of them the weight on the line. The
# rest is for a machine that does something else as well.
MOST_SECONDS, MOST_BYTES = 18, 2_500_000
MOST_MILLISECONDS, OPENINGS = 300, 9
# Until its scripts have wired the form: a press of the tiles then shows a verdict.
OPENED = """() => {
  const [page] = performance.getEntriesByType("navigation");
  return page.domContentLoadedEventEnd - page.startTime;
}"""


@pytest.fixture
def server():
    server = Server(Path(tempfile.mkdtemp(prefix="orchard-sixty-")), connection.vendor)
    try:
        server.world = orchard_of_sixty(server)
        assert len(server.world["trees"]) == TREES
        server.collect_statics()
        server.start("--threads", "4", application="orchard.wsgi:application")
        yield server
    finally:
        server.close()


def orchard_of_sixty(server: Server) -> dict:
    """Make the orchard, or take the one that was made while there was time."""
    if ahead := os.environ.get("ORCHARD_SIXTY"):
        made = Path(ahead)
        shutil.copy(made / "faults.sqlite3", server.folder)
        copy(made / "photos", server.photos)
        return json.loads((made / "world.json").read_text())
    seeded = subprocess.run(
        [sys.executable, "-m", "tests.faults.sixty"],
        cwd=ROOT,
        env=server.surroundings,
        check=False,
        capture_output=True,
        text=True,
    )
    assert seeded.returncode == 0, seeded.stderr
    return json.loads(seeded.stdout)


@pytest.fixture
def line(server):
    with WeakLine(
        server.port, bits_per_second=BITS_PER_SECOND, there_and_back=THERE_AND_BACK
    ) as line:
        yield line


@pytest.fixture
def page(browser, server, line):
    """The walker's phone in the shed: signed in, its worker there, the round open."""
    with opened(
        browser,
        base_url=f"http://127.0.0.1:{line.port}",
        viewport=PHONE,
        has_touch=True,
        is_mobile=True,
        service_workers="allow",
    ) as context:
        page = context.new_page()
        watch(page)
        world = server.world
        page.goto("/sign-in/")
        page.fill("input[name=email]", world["email"])
        page.fill("input[name=password]", world["password"])
        page.press("input[name=password]", "Enter")
        page.wait_for_url(f"**/{world['orchard']}/**")
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        page.goto(f"/{world['orchard']}/rounds/{world['round']}/")
        yield page
    lines_cut = ("net::ERR_", "Failed to load resource")
    said = [one for one in page.complaints if not any(cut in one for cut in lines_cut)]
    assert not said, said


def test_sixty_trees_are_ready_on_a_weak_line_and_open_at_once(server, line, page):
    section = page.locator("[data-round-pages]")
    take = page.get_by_role("button", name="Take this round along")
    expect(take).to_be_enabled()
    before, began = (line.carried, line.down.carried), time.monotonic()
    take.click()
    expect(section).to_have_attribute("data-kept", "ready", timeout=90_000)
    seconds, weight = time.monotonic() - began, line.carried - before[0]
    # The line was as weak as it should be: nothing came quicker than its own weight.
    assert seconds >= (line.down.carried - before[1]) * 8 / BITS_PER_SECOND
    assert weight <= MOST_BYTES, f"{weight} bytes went over the line"
    assert seconds <= MOST_SECONDS, f"ready after {seconds:.1f} s, {weight} bytes"

    line.die()
    world = server.world
    orchard, walk = f"/{world['orchard']}", world["round"]
    opened = []
    for code in world["trees"][:: TREES // OPENINGS]:
        page.goto(f"{orchard}/rounds/{walk}/")
        expect(section).to_have_attribute("data-kept", "ready")
        page.goto(f"{orchard}/trees/{code}/inspections/new/?round={walk}")
        expect(page.locator("h1")).to_contain_text(code)
        # This button is taken away by the script that says verdicts.
        expect(page.locator("[data-read]")).to_have_count(0)
        opened.append(page.evaluate(OPENED))
    assert len(opened) >= OPENINGS
    assert statistics.median(opened) < MOST_MILLISECONDS, sorted(map(round, opened))

    # All sixty are here, and what they show of a sign that was never chosen before.
    for code in world["trees"]:
        answer = page.evaluate(
            "(path) => fetch(path).then((came) => came.text())",
            f"{orchard}/trees/{code}/inspections/signs/sucker/",
        )
        assert "data-steps" in answer
    here = page.evaluate(
        """async (paths) => {
          const missing = [];
          for (const path of paths) {
            if (!await caches.match(path, { ignoreVary: true })) missing.push(path);
          }
          return missing;
        }""",
        [
            f"{orchard}/trees/{code}/{rest}?round={walk}"
            for code in world["trees"]
            for rest in ("", "inspections/new/")
        ],
    )
    assert here == []
