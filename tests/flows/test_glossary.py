"""A word of the trade, opened by thumb or key, without scripts, signal or screen."""

from __future__ import annotations

import io
import os

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from orchard.science import guide
from tests.flows.conftest import (
    DESK,
    NARROW,
    card_came,
    go,
    hurry,
    opened,
    signed_in,
    tile,
    until,
)
from tests.flows.test_first_day import KEPT
from tests.flows.test_pages import TOO_WIDE

pytestmark = pytest.mark.on_sqlite

SIGN = "/alderbrook/guide/aphids/"
MEANS = guide.load().terms["honeydew"].means
SHOTS = os.environ.get("ORCHARD_SHOTS")


def shot(page, name):
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/{name}.png")


def test_a_thumb_opens_a_word_and_closes_it_without_scripts(browser, live_server, vera):
    with opened(
        browser,
        base_url=live_server.url,
        viewport=NARROW,
        has_touch=True,
        is_mobile=True,
        java_script_enabled=False,
    ) as context:
        page = context.new_page()
        signed_in(page, vera)
        page.goto(SIGN)
        told = page.locator("#term-honeydew")
        expect(told).to_be_hidden()
        page.get_by_role("button", name="honeydew").tap()
        expect(told).to_be_visible()
        expect(told).to_contain_text(MEANS)
        shot(page, "word-320")
        box = told.bounding_box()
        assert box["x"] >= 0 and box["x"] + box["width"] <= NARROW["width"]
        told.get_by_role("button", name="Close").tap()
        expect(told).to_be_hidden()


def test_keys_open_a_word_and_come_back_to_it(browser, live_server, vera):
    with opened(browser, base_url=live_server.url, viewport=DESK) as context:
        page = context.new_page()
        signed_in(page, vera)
        page.goto(SIGN)
        word = page.get_by_role("button", name="honeydew")
        word.focus()
        page.keyboard.press("Enter")
        told = page.locator("#term-honeydew")
        expect(told).to_be_visible()
        shot(page, "word-desk")
        page.keyboard.press("Tab")
        expect(told.get_by_role("button", name="Close")).to_be_focused()
        page.keyboard.press("Escape")
        expect(told).to_be_hidden()
        expect(word).to_be_focused()
        assert not page.evaluate(TOO_WIDE)


def test_a_printed_sign_tells_its_words_below(browser, live_server, vera):
    with opened(browser, base_url=live_server.url, viewport=DESK) as context:
        page = context.new_page()
        signed_in(page, vera)
        page.goto(SIGN)
        pages = PdfReader(io.BytesIO(page.pdf(format="A4"))).pages
        text = " ".join(" ".join(one.extract_text() for one in pages).split())
        assert MEANS in text
        assert "Close" not in text


def test_words_and_their_drawings_open_without_signal(browser, live_server, vera):
    with opened(
        browser, base_url=live_server.url, viewport=NARROW, service_workers="allow"
    ) as context:
        hurry(context)
        page = context.new_page()
        signed_in(page, vera)
        go(page, "/alderbrook/guide/sucker/")
        until(page, lambda: page.evaluate(KEPT, "/alderbrook/guide/words/"), seconds=60)
        context.set_offline(True)
        go(page, "/alderbrook/guide/words/")
        skirt = page.locator("#term-skirt")
        skirt.scroll_into_view_if_needed()
        expect(skirt).to_contain_text(guide.load().terms["skirt"].means)
        drawn = skirt.locator("img")
        until(page, lambda: drawn.evaluate("(it) => it.naturalWidth > 0"))
        shot(page, "words-320")


def test_a_word_on_the_form_opens_and_nothing_is_sent(browser, live_server, vera, tree):
    with opened(browser, base_url=live_server.url, viewport=NARROW) as context:
        page = context.new_page()
        signed_in(page, vera)
        page.goto("/alderbrook/trees/A-1/inspections/new/")
        page.get_by_label("Find by everyday words").fill("aphids")
        tile(page, "sign", "aphids").click()
        card_came(page, "aphids")
        card = page.locator('[data-sign="aphids"] [data-card]')
        word = card.get_by_role("button", name="honeydew")
        word.click()
        told = page.locator("#term-honeydew-aphids")
        expect(told).to_be_visible()
        expect(told).to_contain_text(MEANS)
        shot(page, "word-form")
        told.get_by_role("button", name="Close").click()
        expect(told).to_be_hidden()
        expect(word).to_be_visible()
        assert not tree.inspections.exists()
