"""A new volunteer's first screen: short, left at once, there again without signal."""

from __future__ import annotations

import io
import os

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from tests.conftest import PASSWORD
from tests.flows.conftest import DESK, NARROW, PHONE, go, hurry, opened, sign_in, until
from tests.flows.test_pages import TOO_WIDE
from tests.web.home.test_first_day import newcomer

pytestmark = pytest.mark.on_sqlite

PAGE = "/alderbrook/first-day/"
SHOTS = os.environ.get("ORCHARD_SHOTS")
KEPT = """async (path) => {
  for (const name of await caches.keys()) {
    if (await (await caches.open(name)).match(path, { ignoreVary: true })) return true;
  }
  return false;
}"""


@pytest.mark.parametrize("size", [PHONE, NARROW, DESK], ids=["390", "320", "1280"])
def test_a_newcomer_meets_two_short_screens_and_may_leave_at_once(
    browser, live_server, orchard, size
):
    with opened(browser, base_url=live_server.url, viewport=size) as context:
        page = context.new_page()
        sign_in(page, newcomer(orchard), PASSWORD)
        expect(page).to_have_url(f"{live_server.url}{PAGE}")
        assert not page.evaluate(TOO_WIDE)
        for part in page.locator(".first-day > section").all():
            assert part.bounding_box()["height"] <= 2 * size["height"]
        if SHOTS:
            page.screenshot(path=f"{SHOTS}/first-{size['width']}.png", full_page=True)
        away = page.get_by_role("link", name="Go to today")
        expect(away).to_be_in_viewport(ratio=1)
        away.click()
        expect(page).to_have_url(f"{live_server.url}/alderbrook/")


def test_it_is_read_again_by_the_menu_where_there_is_no_signal(
    browser, live_server, orchard
):
    nia = newcomer(orchard)
    with opened(
        browser, base_url=live_server.url, viewport=PHONE, service_workers="allow"
    ) as context:
        hurry(context)
        page = context.new_page()
        sign_in(page, nia, PASSWORD)
        page.get_by_role("link", name="Go to today").click()
        until(page, lambda: page.evaluate(KEPT, PAGE), seconds=30)
        until(page, lambda: page.evaluate(KEPT, "/alderbrook/"))
        context.set_offline(True)
        go(page, "/alderbrook/")
        page.locator("summary", has_text="Menu").click()
        page.get_by_role("link", name="How to look").click()
        expect(page.get_by_role("heading", level=1)).to_have_text(
            "How to look at a tree"
        )
        expect(page.get_by_text("Take nothing away")).to_be_visible()


def test_it_needs_no_script_and_fits_a_sheet_of_paper(browser, live_server, orchard):
    with opened(
        browser, base_url=live_server.url, viewport=NARROW, java_script_enabled=False
    ) as context:
        page = context.new_page()
        sign_in(page, newcomer(orchard), PASSWORD)
        expect(page.get_by_role("heading", level=1)).to_have_text(
            "How to look at a tree"
        )
        printed = PdfReader(io.BytesIO(page.pdf(format="A4")))
        assert len(printed.pages) == 1
        assert "Report" in printed.pages[0].extract_text()
        page.get_by_role("link", name="Go to today").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Today")
