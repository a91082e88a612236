"""Without signal, a tree that this phone never opened: one form serves any of them."""

from __future__ import annotations

import os
import re

import pytest
from playwright.sync_api import expect

from orchard.records.models import Inspection
from tests.conftest import PASSWORD, make_tree
from tests.flows.conftest import (
    Thumb,
    all_sent,
    go,
    hurry,
    opened_afield,
    sign_in,
    tile,
    touch,
    until,
)
from tests.flows.test_first_day import KEPT
from tests.flows.test_taps import answer

pytestmark = pytest.mark.on_sqlite

BLANK = "/alderbrook/inspections/blank/"
SHOTS = os.environ.get("ORCHARD_SHOTS")


@pytest.fixture
def phone_away(browser, live_server, vera, tree):
    """Vera's phone out of signal, which knows none of the trees."""
    with opened_afield(browser, live_server) as context:
        hurry(context)
        page = context.new_page()
        sign_in(page, vera, PASSWORD)
        until(page, lambda: page.evaluate(KEPT, BLANK), seconds=40)
        until(page, lambda: page.evaluate(KEPT, "/alderbrook/"), seconds=40)
        context.set_offline(True)
        yield page


def test_a_typed_code_opens_a_form_and_the_book_judges_what_it_brings(
    phone_away, orchard
):
    page, other = phone_away, make_tree(orchard, "B-2")
    go(page, "/alderbrook/")
    page.get_by_label("Find a tree").fill("b-2")
    page.get_by_role("button", name="Find", exact=True).click()
    expect(page).to_have_url(re.compile(r"/alderbrook/trees/B-2/inspections/new/$"))
    expect(page.get_by_role("heading", level=1)).to_have_text("What do you see on B-2?")
    said = page.get_by_text("This tree's own form is not on this phone.")
    expect(said).to_be_visible()
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/blank-390.png")
    page.get_by_label("Find by everyday words").fill("sucker")
    tile(page, "sign", "sucker").click()
    touch(tile(page, "sucker:graft", "below"))
    expect(page.get_by_text("No verdict here")).to_be_visible()
    expect(page.locator('[data-sign="sucker"] [data-said]')).to_be_hidden()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Saved on this phone")).to_be_visible()
    page.context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    finding = Inspection.objects.get(tree=other).findings.get()
    assert (finding.sign, finding.answers["graft"]) == ("sucker", "below")
    assert finding.verdict


def test_a_code_that_no_tree_has_waits_with_the_reason(phone_away):
    page = phone_away
    go(page, "/alderbrook/trees/Z-99/")
    page.get_by_role("button", name="All is well").click()
    expect(page.get_by_text("Saved on this phone")).to_be_visible()
    page.context.set_offline(False)
    go(page, "/outbox/")
    expect(page.get_by_text("There is no tree Z-99 here.").first).to_be_visible()
    assert not Inspection.objects.exists()


def test_what_must_be_reported_is_said_at_once(phone_away):
    page = phone_away
    go(page, "/alderbrook/trees/B-2/inspections/new/")
    page.get_by_label("Find by everyday words").fill("psyllid nymph")
    tile(page, "sign", "psyllid_nymph").click()
    answer(Thumb(page), "psyllid_nymph")
    said = page.locator('[data-sign="psyllid_nymph"] [data-said]')
    expect(said).to_be_visible()
    expect(said).to_contain_text("Report")
