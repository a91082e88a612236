"""A talk for this afternoon: twelve slides in few actions, and played from a file."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from playwright.sync_api import expect

from orchard.records.models import TalkSet
from orchard.services import permissions, talks
from tests.conftest import NOW
from tests.flows.conftest import opened, signed_in, watch
from tests.services.talks.photos_to_show import photo_to_show
from tests.services.talks.test_purposes import alike_pair, with_sign

pytestmark = pytest.mark.on_sqlite
MOST_ACTIONS = 25


@pytest.fixture
def photos(own_store, orchard, tree, vera):
    """Three springs of a tree, and a pair of look-alikes."""
    for year in (2023, 2024, 2025):
        photo_to_show(
            orchard,
            vera,
            links={"tree": tree},
            taken_at=datetime(year, 5, 2, 10, tzinfo=UTC),
        )
    sign, other, _tell = alike_pair()
    for each in (sign, other):
        photo = photo_to_show(orchard, vera, links={"tree": tree}, taken_at=None)
        with_sign(photo, each.key)
    return sign, other


class Hand:
    """The only way the flow touches a page, so that no action goes uncounted."""

    def __init__(self, page) -> None:
        self.page, self.actions = page, 0

    def press(self, name: str, *, role: str = "button") -> None:
        self.page.get_by_role(role, name=name, exact=True).first.click()
        self.actions += 1

    def choose(self, label: str, value: str) -> None:
        self.page.get_by_label(label, exact=True).select_option(value)
        self.actions += 1

    def write(self, label: str, text: str) -> None:
        self.page.get_by_role("textbox", name=label).fill(text)
        self.actions += 1


def test_a_talk_of_twelve_slides_from_look_alikes_and_three_years(
    desk, orchard, eddy, photos
):
    sign, other = photos
    signed_in(desk, eddy)
    desk.goto("/alderbrook/talks/purposes/")
    hand = Hand(desk)
    hand.choose("Pair", f"{sign.key}.{other.key}")
    desk.locator("form:has(#pair) button").click()
    hand.actions += 1
    desk.wait_for_url("**/talks/*/")
    hand.press("Photos by purpose", role="link")
    desk.locator("form:has(#tree) button").click()
    hand.actions += 1
    desk.wait_for_url("**/talks/*/")
    for title in ("Look with us", "Your questions"):
        hand.press("Add text slide", role="link")
        hand.write("Title", title)
        hand.press("Add slide")
        desk.wait_for_url("**/talks/*/")
    expect(desk.locator("[data-slide]")).to_have_count(12)
    with desk.expect_download() as download:
        hand.press("Download slides", role="link")
    assert download.value.suggested_filename.endswith(".pptx")
    assert hand.actions <= MOST_ACTIONS


@pytest.fixture
def talk_set(own_store, orchard, eddy, vera):
    shown = [photo_to_show(orchard, vera) for _ in range(3)]
    return talks.start(orchard, title="Citrus", photos=shown, by=eddy, now=NOW)


def slides_of(talk_set, eddy):
    member = permissions.member_for(eddy, "alderbrook")
    return [slide.number for slide in talks.read(talk_set, member).slides]


def test_slides_are_put_in_order_by_drag_and_by_keyboard(desk, eddy, talk_set):
    first, second, third, fourth, last = slides_of(talk_set, eddy)
    signed_in(desk, eddy)
    desk.goto(f"/alderbrook/talks/{talk_set.pk}/")
    handle = desk.locator(f"#slide-{fourth} [data-handle]")
    target = desk.locator(f"#slide-{second}").bounding_box()
    box = handle.bounding_box()
    desk.mouse.move(box["x"] + 5, box["y"] + 5)
    desk.mouse.down()
    desk.mouse.move(target["x"] + 20, target["y"] + 10, steps=8)
    with desk.expect_navigation():
        desk.mouse.up()
    expect(desk.get_by_text("The slide is number 2 now")).to_be_visible()
    assert slides_of(talk_set, eddy) == [first, fourth, second, third, last]
    down = desk.get_by_role("button", name="Move slide 2 down")
    down.focus()
    with desk.expect_navigation():
        desk.keyboard.press("Enter")
    assert slides_of(talk_set, eddy) == [first, second, fourth, third, last]
    undo = desk.get_by_role("button", name="Undo", exact=True)
    with desk.expect_navigation():
        undo.click()
    assert slides_of(talk_set, eddy) == [first, fourth, second, third, last]


def test_the_player_runs_from_a_disk_without_a_network(
    browser, desk, eddy, talk_set, tmp_path
):
    signed_in(desk, eddy)
    desk.goto(f"/alderbrook/talks/{talk_set.pk}/")
    with desk.expect_download() as download:
        desk.get_by_role("link", name="Download player").click()
    file = tmp_path / "talk.html"
    download.value.save_as(file)
    with opened(browser, offline=True) as context:
        page = context.new_page()
        watch(page)
        asked = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(file.as_uri())
        shown = page.locator("section:visible")
        expect(shown).to_have_count(1)
        expect(shown).to_contain_text("Citrus")
        page.keyboard.press("ArrowRight")
        expect(shown.locator("figcaption")).to_contain_text("Photo number")
        width = shown.locator("img").evaluate("(image) => image.naturalWidth")
        assert width == 120
        page.get_by_role("button", name="Next").click()
        page.keyboard.press("End")
        expect(shown).to_contain_text("Vera of the orchard")
        assert not page.complaints
        elsewhere = [url for url in asked if not url.startswith(("file:", "data:"))]
        assert elsewhere == []


def test_a_talk_is_put_in_order_without_a_script(browser, live_server, eddy, talk_set):
    first, second, *rest = slides_of(talk_set, eddy)
    with opened(
        browser, base_url=live_server.url, java_script_enabled=False
    ) as context:
        page = context.new_page()
        signed_in(page, eddy)
        page.goto(f"/alderbrook/talks/{talk_set.pk}/")
        assert not page.locator("[data-handle]").first.is_visible()
        slide = page.locator(f"#slide-{first}")
        slide.locator("summary").click()
        slide.get_by_label("Move to number").fill("2")
        slide.get_by_role("button", name="Move", exact=True).click()
        expect(page.get_by_text("The slide is number 2 now")).to_be_visible()
    assert slides_of(talk_set, eddy) == [second, first, *rest]
    assert TalkSet.objects.count() == 1
