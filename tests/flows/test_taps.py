"""With gloves on: how many taps a look costs, counted from the tree's page."""

from __future__ import annotations

import os
import re

import pytest
from playwright.sync_api import expect

from orchard.records.models import Inspection, Kind, Photo, Task
from orchard.science import guide
from tests.conftest import make_tree
from tests.flows.conftest import PHONE, Thumb, card_came, signed_in, tile, until

SHOTS = os.environ.get("ORCHARD_SHOTS")
# What a look may cost: the measures the book has set itself.
CLEAN, WITH_PHOTO = 2, 6
SHUTTER = 1
TWELVE = [
    ("sucker", "trunk"),
    ("trimmer_wound", "trunk"),
    ("water_sprout", "shoot"),
    ("aphids", "shoot"),
    ("soft_scale", "shoot"),
    ("bloom_none", "flower"),
    ("fruit_drop", "fruit"),
    ("fruit_split", "fruit"),
    ("weeds_ring", "ground"),
    ("roots_exposed", "ground"),
    ("fruit_sunburn", "fruit"),
    ("leaning", "tree"),
]
# The answer that is tapped, where it is not the second; a sucker starts below.
ANSWERS = {"sucker": 2}


def at_the_tree(page, vera, tree) -> Thumb:
    """Stand signed in on the tree's page: from here taps are counted."""
    signed_in(page, vera)
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


def answer(thumb, sign: str) -> None:
    """Answer by taps alone what is asked before the verdict of a sign."""
    page = thumb.page
    asked = page.locator(f'[data-screen="ask"] [data-sign="{sign}"] .ask.is-asked')
    while asked.count():
        fact = asked.get_attribute("data-fact")
        thumb.tap(asked.locator(".quick .button, label.tile").nth(ANSWERS.get(sign, 1)))
        same = page.locator(f'[data-screen="ask"] .is-asked[data-fact="{fact}"]')
        expect(same).to_have_count(0)


def fits_two_screens(page) -> None:
    height = page.evaluate("document.documentElement.scrollHeight")
    screen = page.locator("form[data-inspection]").get_attribute("data-screen")
    assert height <= 2 * PHONE["height"], f"{screen} is {height} px high"


def note(thumb, sign: str, place: str, photo) -> bool:
    """Log a sign with its photo, by taps alone; tell whether it was usual now."""
    page = thumb.page
    thumb.tap(page.get_by_role("link", name="Something to note"))
    page.wait_for_url("**/inspections/new/")
    fits_two_screens(page)
    name = guide.load().signs[sign].name.split(" (")[0]
    usual = page.locator('[data-strip="usual"]').get_by_role("button", name=name)
    is_usual = usual.is_visible()
    if is_usual:
        thumb.tap(usual)
    else:
        thumb.tap(page.locator(f'[data-place="{place}"]'))
        fits_two_screens(page)
        thumb.tap(tile(page, "sign", sign))
    expect(page.locator('form[data-screen="ask"]')).to_be_visible()
    card_came(page, sign)
    fits_two_screens(page)
    answer(thumb, sign)
    box = page.locator(f'[data-sign="{sign}"]')
    expect(box.locator("[data-said]")).to_be_visible()
    fits_two_screens(page)
    thumb.photograph(box.locator('input[type="file"]'), photo)
    thumb.tap(page.get_by_role("button", name="Save"))
    page.wait_for_url(re.compile(r"/inspections/\d+/$"))
    return is_usual


@pytest.mark.parametrize(("sign", "place"), TWELVE)
def test_a_finding_with_a_photo_takes_six_taps_at_most(
    phone, tree, vera, own_store, sign, place, camera_photo
):
    thumb = at_the_tree(phone, vera, tree)
    is_usual = note(thumb, sign, place, camera_photo)
    # What is not usual now is touched where it is, which costs the tap of the shutter.
    assert thumb.taps + (SHUTTER if is_usual else 0) <= WITH_PHOTO
    finding = tree.findings.get()
    assert finding.sign == sign
    until(phone, Photo.objects.filter(findings=finding).exists)


@pytest.mark.parametrize(("units", "per_cm"), [("metric", 1), ("us", 2.54)])
def test_the_width_of_a_hole_is_tapped_on_either_side_of_what_decides(
    phone, orchard, vera, units, per_cm
):
    orchard.units = units
    orchard.save()
    kind = Kind.objects.create(
        orchard=orchard, name="Peach", host="stone", group="other", tender_class="T5"
    )
    tree = make_tree(orchard, "P-1", kind=kind, rootstock="")
    signed_in(phone, vera)
    phone.goto(f"/{orchard.slug}/trees/{tree.code}/inspections/new/")
    phone.locator('[data-place="trunk"]').tap()
    drawing, more = tile(phone, "sign", "gum_stone"), phone.get_by_text("More drawings")
    expect(more).to_be_visible()
    while not drawing.is_visible():
        more.tap()
    drawing.tap()
    card_came(phone, "gum_stone")
    box = phone.locator('[data-screen="ask"] [data-sign="gum_stone"]')
    box.locator("label.tile").nth(1).tap()
    hole = box.locator('.ask.is-asked[data-fact="hole_cm"]')
    expect(hole).to_be_visible()
    buttons = hole.locator(".quick .button").all_inner_texts()
    tapped = [float(text) * per_cm for text in buttons]
    signs = [guide.load().signs[key] for key in ("gum_stone", "sawdust_hole")]
    cuts = {
        condition.value
        for sign in signs
        for rule in sign.rules
        for condition in rule.conditions
        if condition.fact == "hole_cm"
    }
    assert cuts == {0, 0.3, 0.6}
    for low, high in ((0, 0.3), (0.3, 0.6), (0.6, 20)):
        assert any(low < width < high for width in tapped)
    assert 0 in tapped


def test_what_was_done_just_now_takes_one_tap_more_and_is_no_task(
    phone, tree, vera, own_store, camera_photo
):
    thumb = at_the_tree(phone, vera, tree)
    thumb.tap(phone.get_by_role("link", name="Something to note"))
    phone.wait_for_url("**/inspections/new/")
    thumb.tap(phone.locator('[data-place="trunk"]'))
    thumb.tap(tile(phone, "sign", "sucker"))
    card_came(phone, "sucker")
    who = phone.locator('[data-sign="sucker"] [data-done]')
    expect(who).to_be_hidden()
    answer(thumb, "sucker")
    expect(who).to_be_visible()
    if SHOTS:
        phone.screenshot(path=f"{SHOTS}/done-now.png", full_page=True)
    fits_two_screens(phone)
    thumb.tap(tile(phone, "sucker:done", "1"))
    box = phone.locator('[data-sign="sucker"]')
    thumb.photograph(box.locator('input[type="file"]'), camera_photo)
    thumb.tap(phone.get_by_role("button", name="Save"))
    phone.wait_for_url(re.compile(r"/inspections/\d+/$"))
    assert thumb.taps <= WITH_PHOTO + 1
    task = Task.objects.get(kind="act", key="sucker")
    closure = task.closures.get()
    assert closure.by == vera
    until(phone, closure.photos.exists)


def test_an_empty_photo_is_said_at_once_and_not_kept(phone, tree, vera):
    at_the_tree(phone, vera, tree)
    phone.goto(f"/{tree.orchard.slug}/trees/{tree.code}/inspections/new/")
    field = phone.locator("#photos")
    expect(phone.locator('form[data-screen="where"]')).to_be_visible()
    empty = {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": b""}
    field.set_input_files([empty])
    expect(phone.locator('label[for="photos"]')).to_contain_text("empty (0 bytes)")
    assert field.evaluate("(one) => one.files.length") == 0


def test_a_verdict_that_asks_for_another_sign_opens_it(phone, tree, vera):
    thumb = at_the_tree(phone, vera, tree)
    phone.goto(f"/{tree.orchard.slug}/trees/{tree.code}/inspections/new/")
    phone.fill("#word", "wilting")
    tile(phone, "sign", "wilt_dry").tap()
    card_came(phone, "wilt_dry")
    thumb.tap(tile(phone, "wilt_dry:soil", "wet"))
    asked = phone.locator('[data-sign="wilt_dry"] [data-plan]:not([hidden])')
    expect(asked).to_contain_text("Look for this too:")
    thumb.tap(asked.get_by_role("link"))
    expect(phone.locator('[name="sign"][value="wilt_wet"]')).to_be_checked()
    opened = phone.locator('[data-sign="wilt_wet"]')
    expect(opened.locator("[data-fact]").first).to_be_visible()
    expect(opened).to_be_in_viewport()
