"""The sheet of tags as it leaves the printer."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from tests.conftest import make_tree
from tests.flows.conftest import signed_in

pytestmark = pytest.mark.on_sqlite

# Width and height in points of 1/72 inch: ISO 216 and ANSI/ASME Y14.1.
PAPER = {"a4": (595, 842), "letter": (612, 792)}


@pytest.mark.parametrize("paper", PAPER)
def test_a_sheet_of_tags_fits_its_paper(paper, desk, orchard, lee):
    codes = [f"A-{number}" for number in range(1, 11)]
    for code in codes:
        make_tree(orchard, code)
    signed_in(desk, lee)
    desk.goto("/alderbrook/tags/")
    desk.check("input[name=which][value=codes]", force=True)
    desk.fill("textarea[name=codes], input[name=codes]", " ".join(codes))
    desk.locator(f"[name=paper][value={paper}]").check(force=True)
    desk.locator("[name=per_page][value='8']").check(force=True)
    desk.locator("main form button").last.click()
    desk.wait_for_selector(".tag-sheet")
    printed = PdfReader(io.BytesIO(desk.pdf(prefer_css_page_size=True)))
    sizes = {
        (round(page.mediabox.width), round(page.mediabox.height))
        for page in printed.pages
    }
    assert sizes == {PAPER[paper]}
    assert len(printed.pages) == 2
    text = " ".join(page.extract_text() for page in printed.pages)
    assert all(code in text.split() for code in codes)
