"""A screen of the board holds enough lines, on a phone and at a desk."""

from __future__ import annotations

import pytest

from orchard.science import guide
from tests.conftest import PASSWORD, make_tree
from tests.flows.conftest import DESK, PHONE, opened, sign_in
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
        sign_in(page, cora, PASSWORD)
        page.goto("/alderbrook/board/")
        assert page.locator(".group-line").count() == 31
        assert page.locator(".group-line").evaluate_all(SEEN) >= least
        width = page.locator("body").evaluate("it => it.scrollWidth")
        assert width <= viewport["width"]
