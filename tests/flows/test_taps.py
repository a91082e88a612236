"""With gloves on: how many taps a look costs, counted from the tree's page."""

from __future__ import annotations

import re

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from orchard.records.models import Inspection, Photo
from orchard.science import guide
from orchard.science.windows import season_month
from tests.conftest import PASSWORD, make_orchard, make_person, make_tree
from tests.flows.conftest import Thumb, card_came, sign_in, tile, until

pytestmark = pytest.mark.on_sqlite

# What a look may cost: the measures the book has set itself.
CLEAN, WITH_PHOTO = 2, 6
SHUTTER = 1


def in_season(orchard) -> bool:
    month = season_month(timezone.now().date(), float(orchard.latitude))
    return month in guide.load().signs["sucker"].usual_sm


@pytest.fixture
def gardens(db, own_store):
    """Two orchards: in every month suckers are usual in one of them at least."""
    north, south = make_orchard("north"), make_orchard("south", south=True)
    return {
        orchard: (make_person(f"Vera-{orchard.slug}", orchard, "volunteer"), tree)
        for orchard in (north, south)
        for tree in [make_tree(orchard, "A-1")]
    }


def at_the_tree(page, vera, tree) -> Thumb:
    """Stand signed in on the tree's page: from here taps are counted."""
    sign_in(page, vera, PASSWORD)
    page.goto(f"/{tree.orchard.slug}/trees/{tree.code}/")
    return Thumb(page)


def test_a_clean_tree_takes_two_taps_at_most_and_can_be_taken_back(phone, tree, vera):
    thumb = at_the_tree(phone, vera, tree)
    thumb.tap(phone.get_by_role("button", name="All well"))
    undo = phone.get_by_role("button", name="Undo")
    expect(undo).to_be_visible()
    assert thumb.taps <= CLEAN
    look = Inspection.objects.get(tree=tree)
    assert look.all_well
    assert look.by == vera
    thumb.tap(undo)
    until(phone, lambda: not Inspection.objects.filter(withdrawn_at=None).exists())
    assert Inspection.objects.get(tree=tree).withdrawn_by == vera


def note(thumb, photo) -> None:
    """Log a sucker with its photo, by taps alone."""
    page = thumb.page
    thumb.tap(page.get_by_role("link", name="Something to note"))
    page.wait_for_url("**/inspections/new/")
    sucker = tile(page, "sign", "sucker")
    if not sucker.is_visible():
        thumb.tap(page.locator("details.signs", has=sucker).locator("summary").first)
    thumb.tap(sucker)
    card_came(page, "sucker")
    thumb.tap(tile(page, "sucker:graft", "below"))
    sign = page.locator('[data-sign="sucker"]')
    expect(sign.locator("[data-said]")).to_contain_text("Act")
    thumb.photograph(sign.locator('input[type="file"]'), photo)
    thumb.tap(page.get_by_role("button", name="Save"))
    page.wait_for_url(re.compile(r"/inspections/\d+/$"))


@pytest.mark.parametrize("season", [True, False], ids=["in season", "out of season"])
def test_a_finding_with_a_photo_takes_six_taps_at_most(
    phone, gardens, season, camera_photo
):
    fits = [orchard for orchard in gardens if in_season(orchard) is season]
    if not fits:
        pytest.skip("In this month suckers are usual on both halves of the earth.")
    vera, tree = gardens[fits[0]]
    thumb = at_the_tree(phone, vera, tree)
    note(thumb, camera_photo)
    # Out of season the sign stands in a fold, which costs the tap of the shutter.
    assert thumb.taps + (SHUTTER if season else 0) <= WITH_PHOTO
    finding = tree.findings.get()
    assert (finding.sign, finding.verdict) == ("sucker", "act")
    until(phone, Photo.objects.filter(findings=finding).exists)


def test_a_verdict_that_asks_for_another_sign_opens_it(phone, tree, vera):
    thumb = at_the_tree(phone, vera, tree)
    phone.goto(f"/{tree.orchard.slug}/trees/{tree.code}/inspections/new/")
    phone.fill("#word", "wilting")
    phone.get_by_text("Wilting with dry soil").first.tap()
    card_came(phone, "wilt_dry")
    thumb.tap(tile(phone, "wilt_dry:soil", "wet"))
    asked = phone.locator('[data-sign="wilt_dry"] [data-plan]:not([hidden])')
    expect(asked).to_contain_text("Look for this too:")
    thumb.tap(asked.get_by_role("link"))
    expect(phone.locator('[name="sign"][value="wilt_wet"]')).to_be_checked()
    opened = phone.locator('[data-sign="wilt_wet"]')
    expect(opened.locator("[data-fact]").first).to_be_visible()
    expect(opened).to_be_in_viewport()
