"""What is half filled is not lost: kept as it is given, and offered again."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from orchard.records.models import Inspection, Photo
from tests.conftest import PASSWORD, make_tree
from tests.flows.conftest import (
    FORM,
    TREE,
    card_came,
    entries,
    fits,
    go,
    note_sucker,
    picture,
    sign_in,
    sign_out,
    until,
    write_note,
)
from tests.flows.test_taken_along import a_round

pytestmark = pytest.mark.on_sqlite


def begin(page) -> None:
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


def offered(page):
    return page.locator("[data-begun]")


def test_a_look_outlives_its_tab_without_signal_and_is_saved_once(page, context, tree):
    begin(page)
    context.set_offline(True)
    page.close()
    page = context.new_page()
    go(page, TREE)
    expect(offered(page)).to_contain_text("Unfinished look at A-1, begun")
    fits(page, "begun-offered")
    offered(page).get_by_role("link", name="Continue look").click()
    expect(page.locator("[data-resumed]")).to_contain_text("It counts as seen at")
    sucker = page.locator('[data-sign="sucker"]')
    expect(sucker.locator("[data-said]")).to_contain_text("Act")
    expect(sucker.locator(".a-file")).to_contain_text("One photo taken")
    expect(page.locator('[name="sucker:note"]')).to_have_value("On the north side")
    fits(page, "begun-resumed")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    until(page, lambda: page.evaluate(DRAFTS) == [])
    context.set_offline(False)
    until(page, Photo.objects.exists)
    finding = Inspection.objects.get().findings.get()
    assert (finding.note, finding.photos.count()) == ("On the north side", 1)
    go(page, TREE)
    expect(page.locator("h1")).to_have_text("A-1")
    expect(offered(page)).to_have_count(0)


def test_a_look_is_offered_where_another_tree_was_chosen_and_may_be_thrown_away(
    page, orchard, tree
):
    make_tree(orchard, "A-2")
    begin(page)
    go(page, "/alderbrook/trees/A-2/inspections/new/")
    expect(offered(page)).to_contain_text("Unfinished look at A-1, begun")
    fits(page, "begun-elsewhere")
    # What is begun here stands beside it.
    page.fill("#word", "sucker")
    page.get_by_role("button", name="Back").click()
    go(page, FORM)
    offered(page).get_by_text("Discard look").click()
    expect(offered(page)).to_contain_text("It and 1 photo are on this phone only")
    assert page.evaluate(DRAFTS)
    fits(page, "begun-discard")
    offered(page).get_by_role("button", name="Yes, discard").click()
    expect(offered(page)).to_have_count(0)
    until(page, lambda: page.evaluate(DRAFTS) == [])
    go(page, FORM)
    expect(page.locator('form[data-screen="where"]')).to_be_visible()
    page.wait_for_timeout(500)
    expect(offered(page)).to_have_count(0)


def test_another_person_on_the_phone_never_sees_what_was_begun(page, tree, vera, lee):
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
    fits(page, "begun-same-form")
    offered(page).get_by_role("link", name="Continue look").click()
    expect(page.locator('[data-sign="sucker"] .a-file')).to_contain_text("One photo")


def test_photos_of_a_record_whose_tab_died_are_kept_by_the_next_page(
    page, context, tree
):
    begin(page)
    context.set_offline(True)
    # The record is kept, and the tab dies while its photo is made ready.
    page.evaluate("() => { createImageBitmap = () => new Promise(() => {}); }")
    page.get_by_role("button", name="Save").click()
    until(page, lambda: len(entries(page)) == 1)
    page.close()
    page = context.new_page()
    go(page, TREE)
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    record, photo = entries(page)
    assert photo["fields"]["inspection"] == record["key"]
    until(page, lambda: page.evaluate(DRAFTS) == [])
    expect(offered(page)).to_have_count(0)
    context.set_offline(False)
    until(page, Photo.objects.exists)
    assert Inspection.objects.get().findings.get().photos.count() == 1


def test_what_is_begun_on_a_form_stays_a_look_of_its_own(page, tree):
    begin(page)
    go(page, FORM)
    expect(offered(page)).to_have_count(1)
    write_note(page, "Bees at noon")
    until(page, lambda: len(page.evaluate(DRAFTS)) == 2)
    offered(page).get_by_role("link", name="Continue look").click()
    expect(page.locator("[data-resumed]")).to_contain_text("1 photo taken then")
    expect(page.locator('[data-sign="sucker"] .a-file')).to_contain_text("One photo")
    expect(page.locator("#note")).to_have_value("")
    expect(offered(page)).to_have_count(1)
    page.get_by_role("button", name="Save").click()
    until(page, Photo.objects.exists)
    assert Inspection.objects.get().note == ""
    go(page, FORM)
    offered(page).get_by_role("link", name="Continue look").click()
    expect(page.locator("#note")).to_have_value("Bees at noon")


def test_what_somebody_notes_on_anothers_open_page_is_not_offered_to_that_other(
    page, context, tree, vera, lee
):
    go(page, FORM)
    other = context.new_page()
    go(other, TREE)
    sign_out(other)
    sign_in(other, lee, PASSWORD)
    go(other, TREE)
    expect(other.locator("h1")).to_have_text("A-1")
    write_note(page, "Bees at noon")
    until(page, lambda: page.evaluate(DRAFTS) == [["A-1", 0]])
    page.get_by_role("button", name="Save").click()
    said = page.locator("[data-kept-said=refused]")
    expect(said).to_contain_text("Whose record is this?")
    said.get_by_role("button", name="Lee saw it: begin anew").click()
    until(page, lambda: page.evaluate(DRAFTS) == [])


# A phone that has no room for photos until somebody makes some.
NO_ROOM = """
  const put = IDBObjectStore.prototype.put;
  window.isFull = true;
  IDBObjectStore.prototype.put = function (value, key) {
    const isRefused = window.isFull && this.name === "bytes";
    if (isRefused) throw new DOMException("full", "QuotaExceededError");
    return put.call(this, value, key);
  };
"""


def test_a_record_stays_what_it_is_while_its_photo_waits_for_room(page, context, tree):
    page.add_init_script(NO_ROOM)
    go(page, FORM)
    photo = {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    page.set_input_files("#photos", photo)
    context.set_offline(True)
    page.get_by_role("button", name="All is well").click()
    said = page.locator("[data-kept-said=refused]")
    expect(said).to_contain_text("The record is saved on this phone.")
    page.get_by_role("button", name="Save").click()
    expect(said).to_contain_text("Photo 1 (a.jpg) is not saved")
    [entry] = entries(page)
    assert ["all_well", "1"] in entry["fields"]["form"]
    context.set_offline(False)
    until(page, lambda: Inspection.objects.exists() and not entries(page))
    # Its record is on its way before the photo is kept, and the note came too late.
    write_note(page, "Bees at noon")
    page.evaluate("window.isFull = false")
    page.get_by_role("button", name="Save").click()
    expect(said).to_contain_text("It was sent before you saved.")
    until(page, Photo.objects.exists)
    look = Inspection.objects.get()
    assert (look.all_well, look.note, look.photos.count()) == (True, "", 1)


NO_OUTBOX = """
  const open = IDBFactory.prototype.open;
  IDBFactory.prototype.open = function (name, version) {
    if (name === "orchard-outbox") throw new DOMException("no", "SecurityError");
    return open.call(this, name, version);
  };
"""


def test_what_is_sent_without_being_kept_is_of_one_moment_and_not_offered_again(
    page, tree
):
    page.add_init_script(NO_OUTBOX)
    go(page, FORM)
    begin(page)
    page.get_by_role("button", name="Save").click()
    refused = page.locator("[data-kept-said=refused]")
    expect(refused).to_contain_text("Not saved")
    moment = page.locator('[name="made_at"]').input_value()
    # The notice of the first press is taken away, so that the second brings its own.
    refused.evaluate("(notice) => notice.remove()")
    page.get_by_role("button", name="Save").click()
    expect(refused).to_contain_text("Not saved")
    assert page.locator('[name="made_at"]').input_value() == moment
    page.get_by_role("button", name="Send it without keeping it").click()
    page.wait_for_url(re.compile(r"/alderbrook/inspections/\d+/$"))
    until(page, lambda: page.evaluate(DRAFTS) == [])
    assert Photo.objects.get().inspections.get() == Inspection.objects.get()


def test_photos_go_along_where_a_browser_cannot_put_them_on_the_form(
    page, context, tree
):
    begin(page)
    context.set_offline(True)
    page.close()
    page = context.new_page()
    page.add_init_script("delete globalThis.DataTransfer;")
    go(page, FORM)
    offered(page).get_by_role("link", name="Continue look").click()
    resumed = page.locator("[data-resumed]")
    expect(resumed).to_contain_text("1 photo taken then goes with it.")
    photo = page.locator('[data-sign="sucker"] .a-file')
    expect(photo).not_to_contain_text("One photo taken")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    until(page, lambda: page.evaluate(DRAFTS) == [])
    context.set_offline(False)
    until(page, Photo.objects.exists)
    finding = Inspection.objects.get().findings.get()
    assert (finding.sign, finding.photos.count()) == ("sucker", 1)


def test_a_look_is_offered_on_its_tree_however_its_code_is_written(page, tree):
    begin(page)
    tree.code = "a-1"
    tree.save(update_fields=["code"])
    go(page, "/alderbrook/trees/a-1/inspections/new/")
    # Beside the form, not among the notices of the page: it is this very tree.
    beside = page.locator("[data-begun] + form[data-outbox=inspection]")
    expect(beside).to_have_attribute("data-tree", "a-1")
    offered(page).get_by_role("link", name="Continue look").click()
    expect(page.locator("[data-resumed]")).to_be_visible()
    expect(page.locator('[name="sucker:note"]')).to_have_value("On the north side")
    page.get_by_role("button", name="Save").click()
    until(page, lambda: Inspection.objects.exists())
    assert Inspection.objects.get().tree == tree


def test_a_look_begun_on_a_round_is_of_that_round_once(
    page, context, orchard, tree, vera, lee
):
    row = a_round(orchard, vera, lee, [tree])
    go(page, f"{FORM}?round={row.pk}")
    begin(page)
    go(page, TREE)
    context.set_offline(True)
    go(page, f"{FORM}?round={row.pk}")
    offered(page).get_by_role("link", name="Continue look").click()
    expect(page).to_have_url(re.compile(rf"begun=[^&]+&round={row.pk}$"))
    expect(page.locator("[data-resumed]")).to_be_visible()
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    look = entries(page)[0]["fields"]
    said = [pair for pair in look["form"] if pair[0] == "round"]
    assert (look["round"], said) == (str(row.pk), [["round", str(row.pk)]])


# Five looks at one tree, begun on five days in May.
BEGUN_BEFORE = """(tree) => new Promise((done) => {
  indexedDB.open("orchard-drafts").onsuccess = ({ target: { result: base } }) => {
    const { person, orchard } = document.body.dataset;
    const drafts = base.transaction("drafts", "readwrite").objectStore("drafts");
    for (let n = 1; n <= 5; n += 1) {
      const began_at = `2026-05-0${n}T08:00:00.000Z`;
      const said = [["note", "Bees"]];
      const key = crypto.randomUUID();
      const rest = { round: "", pictures: [] };
      drafts.put({ key, person, orchard, tree, began_at, said, ...rest });
    }
    drafts.transaction.oncomplete = () => { base.close(); done(); };
  };
})"""


def test_of_many_looks_begun_one_is_offered_and_the_others_are_folded(
    page, orchard, tree
):
    make_tree(orchard, "THE-LONG-CODE-OF-B-12")
    page.evaluate(BEGUN_BEFORE, "THE-LONG-CODE-OF-B-12")
    page.evaluate("localStorage.setItem('orchard-drafts', 'holds')")
    go(page, TREE)
    folded = page.get_by_text("4 more unfinished looks")
    expect(folded).to_be_visible()
    expect(offered(page).locator("visible=true")).to_have_count(1)
    expect(offered(page).first).to_contain_text("May 5")
    fits(page, "begun-many")
    folded.click()
    expect(offered(page).locator("visible=true")).to_have_count(5)
    page.locator("details[open] [data-begun]").first.get_by_role("link").click()
    expect(page.locator("[data-resumed]")).to_be_visible()
    expect(page.locator("#note")).to_have_value("Bees")
