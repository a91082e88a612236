"""What is half filled is not lost: kept as it is given, and offered again."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from orchard.records.models import Inspection, Photo
from tests.conftest import PASSWORD, make_tree
from tests.flows.conftest import card_came, go, sign_in, sign_out, until
from tests.flows.test_offline import (  # noqa: F401
    FORM,
    TREE,
    context,
    kept,
    note_sucker,
    own_store,
    page,
    picture,
    shot,
)

pytestmark = pytest.mark.on_sqlite


def begin(page) -> None:  # noqa: F811
    """Answer what is asked of a sucker, add a photo, and save nothing."""
    note_sucker(page)
    card_came(page, "sucker")
    page.locator('[data-sign="sucker"]').get_by_text("Where, and a note").click()
    page.locator('[name="sucker:note"]').fill("On the north side")
    photo = {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    page.set_input_files('[name="sucker:photo"]', photo)
    until(page, lambda: page.evaluate(DRAFTS) == [["A-1", 1]])


# The trees of all drafts on this phone, each with the number of its pictures.
DRAFTS = """() => new Promise((told) => {
  indexedDB.open("orchard-drafts").onsuccess = ({ target: { result: base } }) => {
    if (!base.objectStoreNames.length) {
      base.close();
      told([]);
      return;
    }
    const all = base.transaction("drafts").objectStore("drafts").getAll();
    all.onsuccess = () => {
      base.close();
      told(all.result.map((one) => [one.tree, one.pictures.length]));
    };
  };
})"""


def offered(page):  # noqa: F811
    return page.locator("[data-begun]")


def test_a_look_outlives_its_tab_without_signal_and_is_saved_once(
    page,  # noqa: F811
    context,  # noqa: F811
    tree,
):
    begin(page)
    context.set_offline(True)
    page.close()
    page = context.new_page()
    go(page, TREE)
    expect(offered(page)).to_contain_text("You had begun a look at A-1 at")
    shot(page, "begun-offered")
    offered(page).get_by_role("link", name="Go on with it").click()
    expect(page.locator("[data-resumed]")).to_contain_text("It counts as seen at")
    sucker = page.locator('[data-sign="sucker"]')
    expect(sucker.locator("[data-said]")).to_contain_text("Act")
    expect(sucker.locator(".a-file")).to_contain_text("One photo taken")
    expect(page.locator('[name="sucker:note"]')).to_have_value("On the north side")
    shot(page, "begun-resumed")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    assert page.evaluate(DRAFTS) == []
    context.set_offline(False)
    until(page, Photo.objects.exists)
    finding = Inspection.objects.get().findings.get()
    assert (finding.note, finding.photos.count()) == ("On the north side", 1)
    go(page, TREE)
    expect(page.locator("h1")).to_have_text("A-1")
    expect(offered(page)).to_have_count(0)


def test_a_look_is_offered_where_another_tree_was_chosen_and_may_be_thrown_away(
    page,  # noqa: F811
    orchard,
    tree,
):
    make_tree(orchard, "A-2")
    begin(page)
    go(page, "/alderbrook/trees/A-2/inspections/new/")
    expect(offered(page)).to_contain_text("You had begun a look at A-1 at")
    shot(page, "begun-elsewhere")
    # What is begun here stands beside it.
    page.fill("#word", "sucker")
    page.get_by_role("button", name="Back").click()
    go(page, FORM)
    offered(page).get_by_role("button", name="Throw it away").click()
    expect(offered(page)).to_have_count(0)
    until(page, lambda: page.evaluate(DRAFTS) == [])
    go(page, FORM)
    expect(page.locator('form[data-screen="where"]')).to_be_visible()
    page.wait_for_timeout(500)
    expect(offered(page)).to_have_count(0)


def test_another_person_on_the_phone_never_sees_what_was_begun(
    page,  # noqa: F811
    tree,
    vera,
    lee,
):
    begin(page)
    go(page, "/alderbrook/")
    expect(offered(page)).to_have_count(1)
    sign_out(page)
    sign_in(page, lee, PASSWORD)
    go(page, FORM)
    expect(page.locator('form[data-screen="where"]')).to_be_visible()
    page.wait_for_timeout(500)
    expect(offered(page)).to_have_count(0)
    go(page, "/alderbrook/")
    sign_out(page)
    sign_in(page, vera, PASSWORD)
    go(page, FORM)
    expect(offered(page)).to_have_count(1)
    shot(page, "begun-same-form")
    offered(page).get_by_role("button", name="Go on with it").click()
    expect(page.locator('[data-sign="sucker"] .a-file')).to_contain_text("One photo")
