"""A round on a phone: from tree to tree without signal, and watched from the shed."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from orchard.records.models import Inspection
from orchard.services import inspections, rounds
from tests.conftest import PASSWORD, make_tree
from tests.flows.conftest import (
    PHONE,
    WATCHED,
    go,
    hurry,
    opened,
    picture,
    sign_in,
    signed_in,
    write_note,
)


@pytest.fixture
def row(orchard, lee, vera, own_store):
    trees = [make_tree(orchard, code) for code in ("A-1", "A-2", "A-3")]
    now = timezone.now()
    today = now.astimezone(ZoneInfo(orchard.time_zone)).date()
    return rounds.make_round(
        orchard, by=lee, now=now, today=today, name="Morning round", walk_on=today,
        trees=trees, to=vera,
    )  # fmt: skip


@pytest.fixture
def phone(browser, live_server, vera):
    with opened(
        browser,
        base_url=live_server.url,
        viewport=PHONE,
        has_touch=True,
        is_mobile=True,
    ) as context:
        page = context.new_page()
        sign_in(page, vera, PASSWORD)
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        yield page


def test_a_round_is_walked_without_signal_from_tree_to_tree(phone, row):
    address = f"/alderbrook/rounds/{row.pk}/"
    go(phone, address)
    phone.get_by_role("button", name="Take this round along").click()
    expect(phone.locator("[data-kept=ready]")).to_be_visible(timeout=60000)
    phone.context.set_offline(True)
    go(phone, address)

    phone.get_by_role("button", name="A-1 is all well").click()
    expect(phone.locator("#tray")).to_contain_text("1 waiting since")
    expect(phone.locator(".next-code")).to_have_text("A-2")
    expect(phone.locator('[data-out="A-1"]')).to_contain_text("noted on this phone")

    # A photo without a word leaves the tree to be looked at.
    phone.get_by_role("link", name="Note on A-2").click()
    photo = {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    phone.set_input_files("#photos", [photo])
    phone.get_by_role("button", name="Save").click()
    phone.wait_for_url(f"**{address}")
    expect(phone.locator('[data-out="A-2"]')).to_contain_text(
        "photo only, on this phone"
    )
    expect(phone.locator(".next-code")).to_have_text("A-2")

    phone.get_by_role("link", name="Note on A-2").click()
    assert phone.url.endswith(f"/trees/A-2/inspections/new/?round={row.pk}")
    write_note(phone, "Bees about")
    phone.get_by_role("button", name="Save").click()
    # The round knows the next tree, and what was saved is said there.
    phone.wait_for_url(f"**{address}")
    expect(phone.locator("[data-saved]")).to_contain_text("Saved on this phone: A-2")
    expect(phone.locator("#tray")).to_contain_text("4 waiting since")
    expect(phone.locator(".next-code")).to_have_text("A-3")
    phone.get_by_role("button", name="A-3 is all well").click()
    expect(phone.get_by_text("Every tree of this round is noted.")).to_be_visible()
    expect(phone.locator(".next-tree")).to_be_hidden()
    assert not Inspection.objects.exists()

    phone.context.set_offline(False)
    go(phone, address)
    for _half_a_second in range(60):
        if Inspection.objects.count() == 4:
            break
        phone.wait_for_timeout(500)
    go(phone, address)
    expect(phone.locator(".lead")).to_contain_text("3 of 3 trees seen")
    looks = Inspection.objects.order_by("seen_at")
    assert [(look.tree.code, look.round) for look in looks] == [
        ("A-1", row), ("A-2", row), ("A-2", row), ("A-3", row),
    ]  # fmt: skip


def test_the_lead_sees_it_come_in_without_reloading(desk, row, lee, vera):
    page = desk
    hurry(page, WATCHED, to=1000)
    signed_in(page, lee)
    go(page, f"/alderbrook/rounds/{row.pk}/")
    expect(page.locator("#live")).to_contain_text("Nothing received yet.")
    now = timezone.now()
    tree = row.stops.get(position=1).tree
    inspections.record(
        tree, by=vera, now=now, seen_at=now, all_well=True,
        arrival=inspections.Arrival(round=row),
    )  # fmt: skip
    expect(page.locator("#live")).to_contain_text("Last heard from Vera", timeout=20000)
    expect(page.locator("#live .tally").first).to_contain_text("1")
