"""A crate picked without signal: recorded at the tree, given away at the shed."""

from __future__ import annotations

from playwright.sync_api import expect

from orchard.records.models import Harvest, HarvestShare
from orchard.services import harvests
from tests.flows.conftest import all_sent, go, hurry, kept, until

NEW = "/alderbrook/harvests/new/"


def test_pick_without_signal_is_a_lot_and_is_given_away(page, context, tree, vera):
    hurry(context)
    go(page, "/alderbrook/")
    # It comes along by itself once a page is open for a moment.
    kept(page, NEW)
    context.set_offline(True)
    go(page, NEW)
    page.fill('[name="trees"]', "A-1")
    page.fill('[name="amount"]', "3.5")
    page.get_by_text("Before any is given away").click()
    for box in page.locator('[name="checks"]').all():
        box.check(force=True)
    page.locator('[name="washed"][value="unwashed"]').check(force=True)
    page.get_by_role("button", name="Save").click()
    expect(page.locator("[data-kept-said=done]")).to_contain_text(
        "Saved on this phone: Harvest, A-1."
    )
    assert not Harvest.objects.exists()
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    lot = Harvest.objects.get()
    assert harvests.balance_of(lot).picked.kg == 3.5
    assert not harvests.why_kept_back(lot)

    go(page, f"/alderbrook/harvests/{lot.pk}/shares/")
    page.locator('[name="use"][value="volunteers"]').check(force=True)
    page.fill('[name="kg"]', "1.5")
    page.get_by_role("button", name="Save").click()
    until(page, HarvestShare.objects.exists)
    go(page, "/outbox/")
    all_sent(page)
    assert HarvestShare.objects.get().kg == 1.5
