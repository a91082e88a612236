"""A screen of the board holds enough lines, and many lines come page by page."""

from __future__ import annotations

import gzip
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from orchard.records.models import Task
from orchard.science import guide
from orchard.services.tasks.board import LINES
from tests.conftest import PASSWORD, make_tree
from tests.flows.conftest import DESK, PHONE, opened, sign_in, signed_in
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.on_sqlite

SEEN = """lines => lines.filter((line) => {
  const { top, bottom } = line.getBoundingClientRect();
  return top >= 0 && bottom <= innerHeight;
}).length"""


@pytest.mark.parametrize(("viewport", "least"), [(PHONE, 6), (DESK, 20)])
def test_a_screen_of_the_board_holds_enough_lines(
    browser, live_server, orchard, tree, cora, viewport, least
):
    other = make_tree(orchard, "B-1")
    for key in list(guide.load().jobs)[:30]:
        for plant in (tree, other):
            make_task(plant, key)
    make_task(tree, "frost_cover", rank=0)
    with opened(browser, base_url=live_server.url, viewport=viewport) as context:
        page = context.new_page()
        signed_in(page, cora)
        page.goto("/alderbrook/board/")
        assert page.locator(".group-line").count() == 31
        assert page.locator(".group-line").evaluate_all(SEEN) >= least
        width = page.locator("body").evaluate("it => it.scrollWidth")
        assert width <= viewport["width"]


def board_of_500(trees) -> None:
    """Open a task of 500 jobs at some trees: a line of the board each."""
    for number in range(500):
        make_task(
            trees[number % len(trees)],
            f"job_{number:03}",
            title=f"Job {number:03}",
            opens_on=timezone.localdate() - timedelta(days=500 - number),
            due_on=timezone.localdate() - timedelta(days=500 - number),
        )


@pytest.mark.parametrize("viewport", [PHONE, DESK])
def test_a_board_of_500_lines_is_light_and_what_was_chosen_stays(
    browser, live_server, orchard, tree, cora, viewport
):
    board_of_500([tree, make_tree(orchard, "B-1")])
    with opened(browser, base_url=live_server.url, viewport=viewport) as context:
        page = context.new_page()
        sign_in(page, cora, PASSWORD)
        answer = page.goto("/alderbrook/board/?kind=care")
        assert len(gzip.compress(answer.body())) < 12_000
        lines = page.locator(".group-line")
        expect(lines).to_have_count(LINES)
        # All of the band are told, and its box chooses them all.
        expect(page.locator(".band")).to_contain_text("500 tasks")
        lines.first.get_by_role("checkbox").check()
        more = page.locator(".further").get_by_role("link", name="More")
        more.press("Enter")
        expect(lines).to_have_count(2 * LINES)
        expect(page.locator(".band")).to_have_count(1)
        expect(lines.first.get_by_role("checkbox")).to_be_checked()
        # The keyboard goes on at the first of the lines that came.
        assert page.evaluate("document.activeElement.textContent.trim()") == (
            lines.nth(LINES).locator("a").inner_text()
        )
        lines.nth(LINES).get_by_role("checkbox").check()
        page.get_by_role("button", name="Take", exact=True).click()
        expect(page.locator(".notice.done")).to_contain_text("2 tasks taken.")
        assert Task.objects.filter(taken_by=cora).count() == 2
        # The filter stands, and undo takes both back.
        assert "kind=care" in page.url
        page.get_by_role("button", name="Undo").click()
        expect(page.locator(".notice.done")).to_contain_text("as they were")
        assert not Task.objects.filter(taken_by=cora).exists()


def test_the_further_lines_open_by_address_without_script(
    browser, live_server, orchard, tree, cora
):
    board_of_500([tree])
    with opened(
        browser, base_url=live_server.url, viewport=PHONE, java_script_enabled=False
    ) as context:
        page = context.new_page()
        signed_in(page, cora)
        page.goto("/alderbrook/board/")
        seen = page.locator(".group-line a").all_inner_texts()
        page.get_by_role("link", name="More", exact=True).click()
        line = page.locator(".group-line").first
        expect(line.locator("a")).to_have_text(f"job {LINES:03}")
        assert line.locator("a").inner_text() not in seen
        line.locator("a").click()
        expect(page.locator(".task-line")).to_have_count(1)
        expect(page.locator(".group-line")).to_have_count(LINES)
        page.get_by_role("link", name="From the first").click()
        # The click comes back before the page has.
        expect(line.locator("a")).to_have_text(seen[0])
        assert page.locator(".group-line a").all_inner_texts() == seen
