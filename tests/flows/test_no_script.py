"""Without JavaScript: every form works, and no verdict is hidden from anybody."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from django.utils import timezone
from PIL import Image
from playwright.sync_api import expect

from orchard.records.models import Photo, Treatment
from tests.conftest import PASSWORD, make_tree
from tests.flows.conftest import GPS, PHONE, opened, sign_in, signed_in, tile, touch
from tests.services.treatments.helpers import add, allow
from tests.web.test_who_may import make_task

pytestmark = pytest.mark.on_sqlite


@pytest.fixture
def plain(browser, live_server, own_store):
    """A phone whose browser runs no scripts."""
    with opened(
        browser,
        base_url=live_server.url,
        viewport=PHONE,
        java_script_enabled=False,
    ) as context:
        yield context.new_page()


def test_a_finding_is_read_before_it_is_saved(plain, tree, vera, camera_photo):
    sign_in(plain, vera, PASSWORD)
    expect(plain.get_by_role("heading", level=1)).to_be_visible()
    plain.goto("/alderbrook/trees/A-1/")
    plain.get_by_role("link", name="Something to note").click()
    plain.get_by_label("Find by everyday words").fill("sucker")
    plain.get_by_role("button", name="Find", exact=True).click()
    tile(plain, "sign", "sucker").click()
    plain.get_by_role("button", name="Read the verdict").last.click()
    touch(tile(plain, "sucker:graft", "below"))
    touch(tile(plain, "sucker:woody", "no"))
    plain.get_by_role("button", name="Read the verdict").last.click()
    expect(plain.locator(".notice.done")).to_contain_text("Nothing is saved yet")
    said = plain.locator('[data-sign="sucker"] [data-said]')
    expect(said).to_contain_text("Act")
    expect(said).to_contain_text("in 14 days")
    expect(said).to_contain_text("it outgrows the tree if it stays")
    assert not tree.findings.exists()
    plain.set_input_files('input[name="sucker:photo"]', camera_photo)
    plain.get_by_role("button", name="Save").click()
    expect(plain).to_have_url(re.compile(r"/inspections/\d+/$"))
    finding = tree.findings.get()
    assert (finding.verdict, finding.answers["graft"]) == ("act", "below")
    assert finding.answers["woody"] is False
    expect(plain.locator(".verdict-said")).to_contain_text("Act")
    photo = Photo.objects.get(findings=finding)
    address = plain.locator(f'img[src*="{photo.name}"]').first.get_attribute("src")
    shown = Image.open(BytesIO(plain.request.get(address).body()))
    assert shown.height > shown.width
    assert not shown.getexif().get_ifd(GPS)


def test_a_clean_look_is_logged_and_taken_back(plain, tree, vera):
    signed_in(plain, vera)
    plain.goto("/alderbrook/trees/A-1/")
    plain.get_by_role("button", name="All well").click()
    expect(plain.locator(".notice.done")).to_contain_text("A-1 is all well")
    assert tree.inspections.get().all_well
    plain.get_by_role("button", name="Undo").click()
    expect(plain.locator(".notice.done")).to_be_visible()
    assert tree.inspections.get().withdrawn_at is not None


def test_the_board_is_filtered_and_many_tasks_closed(plain, orchard, tree, cora):
    here = make_task(orchard, tree, 1)
    there = make_task(orchard, make_tree(orchard, "B-1"), 2)
    signed_in(plain, cora)
    plain.goto("/alderbrook/board/")
    line = plain.locator("#group-due-care-sucker_round")
    expect(line).to_contain_text("2 trees in A, B")
    plain.get_by_text("Filter", exact=True).click()
    plain.get_by_label("Block", exact=True).select_option("A")
    plain.get_by_role("button", name="Show", exact=True).click()
    expect(line).to_contain_text("1 tree in A")
    line.get_by_role("link", name="Take off suckers").click()
    expect(line.locator(".task-place")).to_have_text(["A-1"])
    plain.get_by_label("Choose A-1").check()
    plain.get_by_role("button", name="Take", exact=True).click()
    expect(plain.locator(".notice.done")).to_contain_text("1 task taken.")
    here.refresh_from_db()
    assert here.taken_by == cora
    plain.get_by_label("Choose Take off suckers").check()
    plain.get_by_role("button", name="Close tasks").click()
    plain.get_by_label("What was done").fill("Three came off")
    plain.get_by_role("button", name="Close tasks").click()
    expect(plain.locator(".notice.done")).to_contain_text("1 task closed.")
    here.refresh_from_db()
    there.refresh_from_db()
    assert here.closures.get().evidence == "Three came off"
    assert not there.closed_at
    plain.get_by_role("button", name="Undo").click()
    expect(plain.locator(".notice.done")).to_contain_text("as it was")
    here.refresh_from_db()
    assert here.closed_at is None


def test_a_use_is_recorded_part_by_part_and_nothing_refused_is_lost(
    plain, orchard, tree, lee
):
    orchard = allow(orchard)
    add(orchard, lee, timezone.now())
    signed_in(plain, lee)
    plain.goto("/alderbrook/treatments/new/soap/")
    plain.fill('[name="trees"]', "Z-9")
    plain.select_option('[name="product-0-product"]', label="Leaf soap")
    plain.fill('[name="product-0-total"]', "100")
    plain.select_option('[name="product-0-total_unit"]', "mL")
    # By keyboard: one part opens and closes the one before.
    plain.get_by_text("Weather", exact=True).locator("..").focus()
    plain.keyboard.press("Enter")
    expect(plain.locator('[name="trees"]')).to_be_hidden()
    plain.fill('[name="wind_kmh"]', "8")
    plain.get_by_role("button", name="Record as done").click()
    expect(plain.get_by_text("has the code Z-9")).to_be_visible()
    product = plain.locator("summary", has_text="Product").first
    expect(product).to_contain_text("Leaf soap, 100 mL")
    expect(plain.locator("summary", has_text="Weather")).to_contain_text("8")
    plain.fill('[name="trees"]', "A-1")
    plain.get_by_role("button", name="Record as done").click()
    expect(plain).to_have_url(re.compile(r"/treatments/\d+/$"))
    row = Treatment.objects.get()
    assert (row.wind_kmh, row.products.get().total) == (8, 100)
