"""A block sprayed without signal: closed to pickers, posted, its end corrected."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone
from playwright.sync_api import expect

from orchard.records.models import Harvest, Treatment
from orchard.services.holds import moment_words
from tests.flows.conftest import TREE, all_sent, fits, go, kept, shot
from tests.services.treatments.helpers import ROME, add, allow

NEW = "/alderbrook/treatments/new/soap/"


def test_a_block_is_treated_picks_are_refused_and_the_hold_moves_with_its_end(
    page, context, tree, orchard, vera
):
    now = timezone.now().replace(second=0, microsecond=0)
    # Four hours before entry, a day before fruit is picked; times are of the orchard.
    orchard = allow(orchard, time_zone=ROME.key)
    soap = add(orchard, vera, now, fruit_days=1)
    ended = (now - timedelta(hours=2)).astimezone(ROME)
    go(page, NEW)
    kept(page, NEW)
    context.set_offline(True)
    go(page, NEW)
    page.fill('[name="trees"]', "A")
    page.get_by_text("When", exact=True).click()
    page.fill('[name="ended_at"]', f"{ended:%Y-%m-%dT%H:%M}")
    page.select_option("#id_product-0-product", str(soap.pk))
    page.get_by_role("button", name="Record as done").click()
    said = page.locator("[data-kept-said=done]")
    expect(said).to_contain_text("Saved on this phone")
    assert not Treatment.objects.exists()
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    row = Treatment.objects.get()
    assert [each.tree for each in row.reached.all()] == [tree]

    go(page, "/alderbrook/harvests/new/")
    page.fill('[name="trees"]', "A-1")
    page.fill('[name="amount"]', "2")
    page.get_by_role("button", name="Save").click()
    until_when = moment_words(ended + timedelta(days=1), ROME)
    refused = page.locator("[data-kept-said=refused]")
    expect(refused).to_contain_text(until_when)
    assert not Harvest.objects.exists()

    go(page, f"/alderbrook/treatments/{row.pk}/posting/")
    entry = page.locator(".posting-when").first
    expect(entry).to_have_text(moment_words(ended + timedelta(hours=4), ROME))
    expect(page.locator(".sketch li.is-closed")).to_contain_text("A-1")
    fits(page, "posting")

    later = ended + timedelta(hours=1)
    go(page, f"/alderbrook/treatments/{row.pk}/correction/")
    page.get_by_text("When", exact=True).click()
    page.fill('[name="ended_at"]', f"{later:%Y-%m-%dT%H:%M}")
    page.fill('[name="reason"]', "The pump ran on for an hour")
    page.get_by_role("button", name="Correct").click()
    moved = moment_words(later + timedelta(hours=4), ROME)
    expect(page.get_by_text(f"No entry before {moved}")).to_be_visible()
    fits(page, "treatment-corrected")
    go(page, "/alderbrook/trees/A-1/")
    expect(page.locator("#hold")).to_contain_text(moved)
    why = page.locator(".event", has_text="The pump ran on for an hour")
    expect(why).to_contain_text("Corrected:")
    expect(why).to_contain_text("Leaf soap")


# Makes a page that was kept one of an earlier moment.
AGE = """async ([path, before]) => {
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    const found = await cache.match(path, { ignoreVary: true });
    if (!found) continue;
    const mark = /data-rendered-at="[^"]+"/;
    const text = (await found.text()).replace(mark, `data-rendered-at="${before}"`);
    const headers = { "content-type": "text/html; charset=utf-8" };
    await cache.put(path, new Response(text, { headers }));
  }
}"""


def test_holds_kept_from_another_day_let_nobody_in(page, context, tree):
    now = timezone.now()
    for path in (TREE, "/alderbrook/harvests/new/"):
        go(page, path)
        kept(page, path)
        context.set_offline(True)
        for words, ago in (("Holds as of", 1), ("Treat everything as closed", 30)):
            before = now - timedelta(hours=ago)
            page.evaluate(AGE, [path, before.isoformat()])
            go(page, path)
            expect(page.locator("[data-holds-since]")).to_contain_text(words)
        shot(page, f"holds-kept{path.replace('/', '-')}")
        context.set_offline(False)
