"""By keyboard alone: the board and the form, and where one stands is always seen."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.conftest import make_tree
from tests.flows.conftest import signed_in
from tests.web.test_who_may import make_task

# A drawn tile hides the field that has the focus and wears the ring in its place.
STANDS_AT = """() => {
  const at = document.activeElement;
  const label = at.closest("label") ?? document.querySelector(`label[for="${at.id}"]`);
  const said = [at.getAttribute("aria-label"), at.textContent, label?.textContent];
  const worn = [at, at.nextElementSibling].filter(Boolean);
  const rings = worn.filter((one) => {
    const { outlineStyle, outlineWidth, outlineColor } = getComputedStyle(one);
    return outlineStyle !== "none" && parseFloat(outlineWidth) >= 2
      && !/, 0\\)$|^transparent$/.test(outlineColor);
  });
  const seen = rings.map((one) => one.getBoundingClientRect()).filter((box) =>
    box.width > 1 && box.height > 1 && box.bottom > 0 && box.right > 0
    && box.top < innerHeight && box.left < innerWidth);
  // The button inside a field for a day wears the browser's own ring, out of our sight.
  const inner = at.matches("[type=date], [type=time]") && !at.matches(":focus");
  return {
    name: at.getAttribute("name") ?? "",
    value: at.value ?? "",
    text: said.find((text) => text?.trim())?.trim().replace(/\\s+/g, " ") ?? "",
    where: at.outerHTML.slice(0, 160),
    lost: at === document.body || at === document.documentElement,
    seen: seen.length > 0 || inner,
  };
}"""
MOST_STEPS = 120


class Keys:
    """The only way these flows touch a page: keys, and no mouse."""

    def __init__(self, page) -> None:
        self.page = page

    def press(self, key: str) -> None:
        self.page.keyboard.press(key)

    def write(self, text: str) -> None:
        self.page.keyboard.type(text)

    def stands_at(self) -> dict:
        at = self.page.evaluate(STANDS_AT)
        for _turn in range(100):
            if at["lost"] or at["seen"]:
                break
            # What slides into view is given its time, on a busy machine too.
            self.page.wait_for_timeout(50)
            at = self.page.evaluate(STANDS_AT)
        assert at["lost"] or at["seen"], f"focus without a ring: {at['where']}"
        return at

    def go_to(self, text: str = "", *, name: str = "", value: str = "") -> None:
        """Press Tab until the focus is at what is wanted; every stop must be seen."""
        passed = []
        for _step in range(MOST_STEPS):
            self.press("Tab")
            at = self.stands_at()
            passed.append(at["text"][:30] or at["name"])
            if name and (at["name"], value or at["value"]) == (name, at["value"]):
                return
            if text and re.match(text, at["text"]):
                return
        raise AssertionError(f"never came to {text or name}: {passed}")


def test_many_are_chosen_closed_and_opened_again_by_keyboard(desk, orchard, tree, cora):
    here = [make_task(orchard, tree, 1)]
    here.append(make_task(orchard, make_tree(orchard, "A-2"), 2))
    there = make_task(orchard, make_tree(orchard, "B-1"), 3)
    signed_in(desk, cora)
    desk.goto("/alderbrook/board/")
    keys = Keys(desk)
    keys.press("Tab")
    assert keys.stands_at()["text"] == "Skip to the page"
    keys.press("Enter")
    assert desk.evaluate("document.activeElement.id") == "content"
    keys.go_to("Filter")
    keys.press("Enter")
    keys.go_to(name="block")
    keys.press("ArrowDown")
    line = desk.locator("#group-due-care-sucker_round")
    expect(line).to_contain_text("2 trees in A")
    assert keys.stands_at()["name"] == "block", "the filter lost the focus"
    expect(desk).to_have_url(re.compile("block=A"))
    keys.go_to("Take off suckers")
    keys.press("Enter")
    expect(line.locator(".task-place")).to_have_text(["A-1", "A-2"])
    assert keys.stands_at()["text"] == "Take off suckers", "the line lost the focus"
    expect(desk).to_have_url(re.compile("open=due-care-sucker_round"))
    deeds = desk.get_by_role("group", name="Chosen tasks")
    expect(deeds).to_be_hidden()
    keys.go_to(name="task")
    keys.press("Space")
    expect(deeds).to_be_visible()
    keys.go_to(name="task")
    keys.press("Space")
    keys.go_to("Close tasks")
    keys.press("Enter")
    expect(desk.get_by_role("heading", level=1)).to_have_text("Close tasks")
    expect(desk.locator(".chosen-jobs")).to_contain_text("A-1, A-2")
    keys.go_to(name="evidence")
    keys.write("Three came off")
    keys.go_to("Close tasks")
    keys.press("Enter")
    notice = desk.locator(".notice.done")
    expect(notice).to_contain_text("2 tasks closed.")
    expect(notice).to_be_in_viewport()
    expect(desk).to_have_url(re.compile("block=A.*open=due-care-sucker_round"))
    for task in here:
        task.refresh_from_db()
        assert task.closures.get().evidence == "Three came off"
    there.refresh_from_db()
    assert there.closed_at is None
    keys.go_to("Undo")
    keys.press("Enter")
    expect(notice).to_contain_text("2 tasks are as they were.")
    expect(line.locator(".task-place")).to_have_text(["A-1", "A-2"])
    for task in here:
        task.refresh_from_db()
        assert task.closed_at is None


def test_the_form_by_keyboard(desk, tree, vera):
    signed_in(desk, vera)
    desk.goto("/alderbrook/trees/A-1/")
    keys = Keys(desk)
    keys.go_to("Something to note")
    keys.press("Enter")
    expect(desk).to_have_url(re.compile("/inspections/new/"))
    keys.go_to(name="word")
    keys.write("sucker")
    # The return key in a field sends nothing half filled.
    keys.press("Enter")
    keys.go_to(name="sign", value="sucker")
    keys.press("Space")
    keys.go_to(name="sucker:graft")
    keys.press("Space")
    said = desk.locator('[data-sign="sucker"] [data-said]')
    chosen = desk.locator('input[name="sucker:graft"]:checked')
    while chosen.get_attribute("value") != "below":
        keys.press("ArrowDown")
        keys.stands_at()
    # An arrow key chooses; the page turns when somebody says so.
    expect(said).to_be_hidden()
    keys.go_to("Next")
    keys.press("Enter")
    expect(said).to_be_visible()
    expect(said).to_contain_text("Act")
    assert not tree.findings.exists()
    keys.go_to("Save")
    keys.press("Enter")
    expect(desk).to_have_url(re.compile(r"/inspections/\d+/$"))
    finding = tree.findings.get()
    assert (finding.answers["graft"], finding.verdict) == ("below", "act")


def test_a_menu_on_a_phone_opens_and_closes_by_keyboard(phone, tree, vera):
    signed_in(phone, vera)
    phone.goto("/alderbrook/board/")
    keys = Keys(phone)
    board = phone.get_by_role("navigation", name="Menu").get_by_role("link").first
    expect(board).to_be_hidden()
    keys.go_to("Menu")
    keys.press("Enter")
    expect(board).to_be_visible()
    keys.press("Escape")
    expect(board).to_be_hidden()
    assert keys.stands_at()["text"] == "Menu"


def test_a_focus_without_a_ring_is_noticed(desk):
    """The eye of these flows is held against a page that hides its focus."""
    body = "<style>a:focus { outline: 0 } b { outline: 3px solid }</style>"
    desk.set_content(f'{body}<a href="#x">Nobody sees this</a><b>ringed</b>')
    keys = Keys(desk)
    with pytest.raises(AssertionError, match="focus without a ring"):
        keys.go_to("Nobody sees this")
