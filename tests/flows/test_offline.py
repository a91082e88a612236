"""A day without signal, on a phone: kept first, sent later, never lost, never twice."""

from __future__ import annotations

import json
import re
from datetime import datetime

from django.contrib.sessions.models import Session
from PIL import Image
from playwright.sync_api import expect

from orchard.records.models import (
    Happening,
    Inspection,
    Kind,
    Photo,
    Receipt,
)
from orchard.web.pages.offline import views
from tests.conftest import PASSWORD, make_tree
from tests.flows.conftest import (
    FORM,
    NARROW,
    PHONE,
    STORE_PATIENCE,
    TREE,
    all_sent,
    entries,
    go,
    hurry,
    kept,
    note_sucker,
    opened,
    picture,
    settled,
    shot,
    sign_in,
    sign_out,
    tap,
    until,
    write_note,
)


def test_a_look_without_signal_is_kept_and_arrives_once(page, context, tree, vera):
    context.set_offline(True)
    go(page, FORM)
    note_sucker(page)
    shot(page, "form-offline")
    page.set_input_files(
        "#photos",
        [
            {"name": f"{n}.jpg", "mimeType": "image/jpeg", "buffer": picture(colour)}
            for n, colour in enumerate(("olive", "tan"))
        ],
    )
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("3 waiting since")
    shot(page, "kept-offline")
    assert Inspection.objects.count() == 0
    waiting = entries(page)
    assert [entry["kind"] for entry in waiting] == ["inspection", "photo", "photo"]
    assert waiting[0]["person"] == vera.pk
    assert ["sucker:shown", "act"] in waiting[0]["fields"]["form"]

    go(page, "/outbox/")
    expect(page.locator("[data-entry]")).to_have_count(3)
    shot(page, "outbox-offline")
    context.set_offline(False)
    all_sent(page)
    shot(page, "outbox-empty")
    inspection = Inspection.objects.get()
    assert inspection.key.hex == waiting[0]["key"].replace("-", "")
    assert Photo.objects.filter(inspections=inspection).count() == 2
    assert Receipt.objects.count() == 3


def choose_photo(page, colour="olive"):
    photo = {"name": f"{colour}.jpg", "mimeType": "image/jpeg"}
    page.set_input_files("#photos", [{**photo, "buffer": picture(colour)}])


def test_a_photo_without_a_word_arrives_and_says_what_it_is(page, context, tree):
    context.set_offline(True)
    go(page, FORM)
    choose_photo(page)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    # Opened again and saved as it is, it still has its photo.
    key = entries(page)[0]["key"]
    go(page, f"{FORM}?mend={key}")
    expect(page.locator("[data-kept-said]")).to_contain_text("You are changing")
    page.get_by_role("button", name="Save", exact=True).click()
    until(page, lambda: entries(page)[0]["revision"] == 2 or None)
    assert entries(page)[0]["fields"]["photos_follow"]
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    look = Inspection.objects.get()
    assert look.photo_only
    assert list(look.photos.all()) == [Photo.objects.get()]
    go(page, f"/alderbrook/inspections/{look.pk}/")
    expect(page.locator(".verdict-said")).to_contain_text("Photo only.")
    expect(page.locator(".verdict-said")).not_to_contain_text("arrived")
    shot(page, "photo-only-390")
    go(page, TREE)
    expect(page.locator("#timeline")).to_contain_text("Photo only")
    shot(page, "photo-only-tree-390")


def test_a_look_with_nothing_in_it_is_told_at_the_tree(page, context, tree):
    context.set_offline(True)
    go(page, FORM)
    page.get_by_role("button", name="Save", exact=True).click()
    said = page.locator("[data-kept-said=refused]")
    expect(said).to_contain_text("Nothing recorded yet.")
    assert entries(page) == []
    write_note(page, "Bees at noon")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")


def test_the_only_photo_of_a_look_is_withdrawn_with_it(page, context, tree):
    context.set_offline(True)
    go(page, FORM)
    choose_photo(page)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    go(page, "/outbox/")
    row = page.locator(
        "[data-entry]", has=page.locator(".entry-code", has_text="Photo")
    )
    row.get_by_text("Withdraw", exact=True).click()
    expect(row).to_contain_text(
        "The look at A-1 has nothing else: it is withdrawn too."
    )
    shot(page, "photo-only-withdrawn-390")
    row.get_by_role("button", name="Yes, withdraw").click()
    expect(page.locator("[data-entry]")).to_have_count(0)
    assert entries(page) == []


def test_with_signal_the_saved_page_stands_there_at_once(page, tree):
    go(page, FORM)
    note_sucker(page)
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(re.compile(r"/alderbrook/inspections/\d+/$"))
    expect(page.locator("h1")).to_contain_text("Inspection of A-1")
    expect(page.locator(".notices")).to_contain_text("A-1 is saved.")
    expect(page.get_by_role("link", name="Choose the next tree")).to_be_visible()
    shot(page, "saved")
    expect(page.locator("#tray")).to_be_hidden()
    assert Inspection.objects.count() == 1
    # The form is no page to come back to: it is saved.
    page.go_back()
    expect(page.locator("form.inspection")).to_have_count(0)


def test_who_goes_elsewhere_after_saving_is_not_called_back(
    browser, live_server, vera, tree
):
    # What the worker asks for is not seen here.
    with opened(
        browser, base_url=live_server.url, viewport=PHONE, service_workers="block"
    ) as context:
        page = context.new_page()
        sign_in(page, vera, PASSWORD)
        save_and_go_elsewhere(page)
    assert Inspection.objects.count() == 1


def save_and_go_elsewhere(page) -> None:
    answers, pages = [], []
    page.route("**/inbox/", lambda route: hold_post(route, answers))
    page.route("**/board/", lambda route: pages.append(route))
    go(page, FORM)
    note_sucker(page)
    page.get_by_role("button", name="Save").click()
    until(page, lambda: answers)
    page.evaluate("() => { location.href = '/alderbrook/board/'; }")
    until(page, lambda: pages)
    answers.pop().continue_()
    until(page, Inspection.objects.exists)
    # The answer is read, and would lead on.
    page.wait_for_timeout(500)
    pages.pop().continue_()
    page.wait_for_url("**/board/", timeout=10_000)


def hold_post(route, kept) -> None:
    if route.request.method == "POST":
        kept.append(route)
    else:
        route.continue_()


def test_a_clean_tree_in_one_tap_and_the_undo(page, tree):
    go(page, TREE)
    page.get_by_role("button", name="All well").click()
    expect(page.locator(".notices")).to_contain_text("Saved: A-1, all well")
    shot(page, "all-well-online")
    assert Inspection.objects.get().all_well
    page.get_by_role("button", name="Undo").click()
    page.wait_for_url(f"**{TREE}")
    expect(page.locator(".notices")).to_contain_text("withdrawn")
    assert Inspection.objects.get().withdrawn_at


def test_a_clean_tree_without_signal_and_a_double_tap(page, context, tree):
    context.set_offline(True)
    go(page, TREE)
    expect(page.locator("#tray")).to_be_hidden()
    page.get_by_role("button", name="All well").dblclick()
    expect(page.locator("[data-kept-said=done]")).to_contain_text("Saved on this phone")
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    shot(page, "all-well-offline")
    context.set_offline(False)
    expect(page.locator(".notices")).to_contain_text("Saved: A-1, all well")
    assert Inspection.objects.count() == 1


def test_an_entry_outlives_its_tab_and_is_sent_by_the_next_page(page, context, tree):
    context.set_offline(True)
    go(page, TREE)
    page.get_by_role("button", name="All well").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    page.close()
    context.set_offline(False)
    other = context.new_page()
    go(other, "/alderbrook/guide/")
    expect(other.locator(".notices")).to_contain_text("Saved: A-1, all well")
    assert Inspection.objects.count() == 1


def test_a_refused_entry_stays_with_its_reason_and_is_mended(page, context, tree):
    """Seen before the tree stood there: the page cannot know, the book does."""
    context.set_offline(True)
    go(page, FORM)
    note_sucker(page)
    page.locator('[name="sucker:note"]').fill("On the north side")
    write_note(page, "Two shoots")
    page.fill("#seen_day", "2001-05-01")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    key = entries(page)[0]["key"]
    context.set_offline(False)
    go(page, "/outbox/")
    row = page.locator(f'[data-entry="{key}"]')
    expect(row).to_have_attribute("data-entry-state", "refused")
    expect(row).to_contain_text("Refused: ")
    expect(page.locator("#tray")).to_contain_text("1 refused: it needs you")
    shot(page, "outbox-refused")
    page.set_viewport_size(NARROW)
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]
    shot(page, "outbox-refused-narrow")
    page.set_viewport_size(PHONE)
    assert Inspection.objects.count() == 0

    row.get_by_role("link", name="Correct", exact=True).click()
    expect(page.locator("[data-kept-said=refused]")).to_contain_text(
        "You are correcting"
    )
    # Until the questions stand there, their answers are carried unseen.
    below = page.locator('[type="radio"][name="sucker:graft"][value="below"]')
    expect(below).to_be_checked()
    expect(page.locator("#note")).to_have_value("Two shoots")
    expect(page.locator("#seen_day")).to_have_value("2001-05-01")
    shot(page, "mending")
    page.fill("#seen_day", "")
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(re.compile(r"/alderbrook/inspections/\d+/$"))
    kept_one = Inspection.objects.get()
    assert str(kept_one.key) == key
    finding = kept_one.findings.get()
    assert (kept_one.note, finding.note) == ("Two shoots", "On the north side")
    assert entries(page) == []


def test_a_refusal_with_signal_is_told_on_the_form_and_mended_there(page, tree):
    go(page, FORM)
    note_sucker(page)
    page.get_by_role("button", name="Condition, note, tasks done").click()
    page.get_by_text("Note, growth stage, another day").click()
    page.fill("#seen_day", "2001-05-01")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("[data-kept-said=refused]")).to_contain_text("Refused:")
    expect(page.locator("[data-kept-said=refused]")).to_be_in_viewport()
    shot(page, "refused-on-form")
    page.fill("#seen_day", "")
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(re.compile(r"/alderbrook/inspections/\d+/$"))
    assert Inspection.objects.count() == 1


def test_the_wrong_tree_is_mended_to_the_right_one(page, context, orchard, tree):
    other = make_tree(orchard, "A-2")
    context.set_offline(True)
    go(page, TREE)
    page.get_by_role("button", name="All well").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    type(tree).objects.filter(pk=tree.pk).update(code="A-9")
    context.set_offline(False)
    go(page, "/outbox/")
    expect(page.locator("[data-entry]")).to_contain_text("There is no tree A-1 here")
    page.get_by_label("It was another tree:").fill("A-2")
    page.get_by_role("button", name="Open its form").click()
    expect(page.locator("h1")).to_contain_text("What do you see on A-2?")
    expect(page.locator("[data-kept-said=refused]")).to_contain_text(
        "You are correcting"
    )
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(re.compile(r"/alderbrook/inspections/\d+/$"))
    assert Inspection.objects.get().tree == other


def test_what_is_open_to_be_changed_is_not_sent_before_it_is_saved(
    page, context, tree, vera
):
    context.set_offline(True)
    go(page, FORM)
    note_sucker(page)
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    [entry] = entries(page)
    go(page, f"{FORM}?mend={entry['key']}")
    said = page.locator("[data-kept-said=offline]")
    expect(said).to_contain_text("You are changing: A-1")
    # What the sign asks comes after its answers; with signal its note is folded away.
    expect(page.locator('[name="sucker:note"]')).to_be_visible()
    context.set_offline(False)
    other = context.new_page()
    go(other, "/outbox/")
    row = other.locator("[data-entry]")
    expect(row).to_contain_text("Open on another page.")
    shot(other, "outbox-open-elsewhere")
    assert Inspection.objects.count() == 0
    page.locator('[name="sucker:note"]').fill("On the north side")
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(re.compile(r"/alderbrook/inspections/\d+/$"))
    look = Inspection.objects.get()
    assert look.findings.get().note == "On the north side"
    assert str(look.key) == entry["key"]


def test_a_page_that_has_no_form_for_an_entry_does_not_hold_it_up(page, context, tree):
    go(page, f"{TREE}events/")
    kept(page, f"{TREE}events/")
    go(page, FORM)
    context.set_offline(True)
    write_note(page, "Bees")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    go(page, f"{TREE}events/?mend={entries(page)[0]['key']}")
    expect(page.locator("form[data-outbox=event]")).to_be_visible()
    page.wait_for_timeout(1000)
    context.set_offline(False)
    until(page, Inspection.objects.exists)


def test_two_pages_that_change_one_entry_do_not_write_over_each_other(
    page, context, tree
):
    context.set_offline(True)
    go(page, FORM)
    write_note(page, "Bees")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    [entry] = entries(page)
    other = context.new_page()
    for one, note in ((page, "Bees at noon"), (other, "Bees at dusk")):
        go(one, f"{FORM}?mend={entry['key']}")
        said = one.locator("[data-kept-said=offline]")
        expect(said).to_contain_text("You are changing")
        one.locator("#note").fill(note)
    other.get_by_role("button", name="Save").click()
    until(other, lambda: entries(other)[0]["revision"] == 2)
    page.get_by_role("button", name="Save").click()
    said = page.locator("[data-kept-said=refused]")
    expect(said).to_contain_text("It was saved on another page meanwhile.")
    shot(page, "saved-on-another-page")
    expect(page.locator("#note")).to_have_value("Bees at noon")
    [left] = entries(page)
    assert ["note", "Bees at dusk"] in left["fields"]["form"]


def test_a_change_to_what_has_arrived_meanwhile_leads_to_its_correction(
    page, context, tree
):
    context.set_offline(True)
    go(page, FORM)
    note_sucker(page)
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    [entry] = entries(page)
    # An engine whose locks hold nothing: what another tab sends is not held up.
    page.add_init_script(
        "navigator.locks.request = (name, how, act) => (act ?? how)({});"
        "navigator.locks.query = async () => ({ held: [] });"
    )
    go(page, f"{FORM}?mend={entry['key']}")
    expect(page.locator("[data-kept-said=offline]")).to_contain_text("You are changing")
    page.locator('[name="sucker:note"]').fill("On the north side")
    context.set_offline(False)
    until(page, lambda: Inspection.objects.exists() and not entries(page))
    page.get_by_role("button", name="Save").click()
    said = page.locator("[data-kept-said=refused]")
    expect(said).to_contain_text("It was sent before you saved.")
    shot(page, "sent-before-saved")
    expect(page.locator('[name="sucker:note"]')).to_have_value("On the north side")
    with context.expect_page() as opened_page:
        said.get_by_role("link", name="Correct what was saved").click()
    look = Inspection.objects.get()
    assert opened_page.value.url.endswith(f"/inspections/{look.pk}/correction/")
    expect(opened_page.value.locator("h1")).to_contain_text("Correct the inspection")


# A store whose first write of an entry answers too late, and is kept all the same.
SLOW = """
  const put = IDBObjectStore.prototype.put;
  let isFirst = true;
  IDBObjectStore.prototype.put = function (value, key) {
    const asked = put.call(this, value, key);
    if (this.name !== "entries" || !isFirst) return asked;
    isFirst = false;
    this.transaction.abort = () => {};
    const until = Date.now() + 2500;
    const hold = () => {
      if (Date.now() < until) this.count().onsuccess = hold;
    };
    hold();
    return asked;
  };
"""


def test_what_a_slow_store_kept_after_all_is_not_sent_a_second_time(
    page, context, orchard, tree
):
    hurry(page, STORE_PATIENCE, to=2000)
    page.add_init_script(SLOW)
    go(page, f"{TREE}events/")
    page.locator("label", has=page.locator('[name="what"][value="staked"]')).click()
    page.locator("form[data-outbox=event] button.primary").click()
    said = page.locator("[data-kept-said=refused]")
    expect(said).to_contain_text("does not answer", timeout=30000)
    shot(page, "store-late")
    page.get_by_role("button", name="Send it without keeping it").click()
    until(page, Receipt.objects.exists)
    go(page, "/outbox/")
    all_sent(page)
    assert Happening.objects.count() == Receipt.objects.count() == 1


# A store that never answers.
SILENT = "IDBFactory.prototype.open = function never() { return {}; };"


def patiently(page, seconds, seen):
    """Let the page's own clock run until something is seen, at most so many seconds."""
    for _second in range(seconds):
        page.clock.run_for(1000)
        if seen.is_visible():
            return
    expect(seen).to_be_visible()


def test_a_clean_tree_is_not_sent_twice_without_a_warning(page, tree):
    page.add_init_script(SILENT)
    page.clock.install()
    go(page, TREE)
    page.get_by_role("button", name="All well").click()
    said = page.locator("[data-kept-said=refused]")
    patiently(page, 60, said.get_by_text("Not saved yet."))
    said.get_by_role("button", name="Send it without keeping it").click()
    patiently(page, 30, said.get_by_text("it is recorded twice"))
    assert not Inspection.objects.exists()
    shot(page, "all-well-twice-390")
    page.set_viewport_size(NARROW)
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]
    expect(said.get_by_role("button", name="Try again")).to_be_visible()
    said.get_by_role("button", name="Send it all the same").click()
    until(page, Inspection.objects.exists)
    assert Inspection.objects.get().all_well


def test_what_is_left_open_to_be_changed_goes_after_half_an_hour(page, context, tree):
    context.set_offline(True)
    go(page, FORM)
    note_sucker(page)
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    [entry] = entries(page)
    page.clock.install()
    go(page, f"{FORM}?mend={entry['key']}")
    expect(page.locator("[data-kept-said=offline]")).to_contain_text("You are changing")
    expect(page.locator('[name="sucker:note"]')).to_be_visible()
    context.set_offline(False)
    other = context.new_page()
    go(other, "/outbox/")
    expect(other.locator("[data-entry]")).to_contain_text("Open on another page.")
    # Whoever still writes has half an hour again.
    page.clock.fast_forward("29:00")
    page.locator('[name="sucker:note"]').fill("On the north side")
    page.clock.fast_forward("29:00")
    other.get_by_role("button", name="Send now").click()
    expect(other.locator("[data-entry]")).to_contain_text("Open on another page.")
    assert not Inspection.objects.exists()
    page.clock.fast_forward("02:00")
    until(page, Inspection.objects.exists)
    assert Inspection.objects.get().findings.get().note == ""
    until(page, lambda: not entries(page))
    page.get_by_role("button", name="Save").click()
    said = page.locator("[data-kept-said=refused]")
    expect(said).to_contain_text("It was sent before you saved.")
    expect(page.locator('[name="sucker:note"]')).to_have_value("On the north side")
    assert Inspection.objects.count() == 1


# Another page takes the first entry back as soon as it is kept.
TAKEN_BACK = """
  const put = IDBObjectStore.prototype.put;
  let isFirst = true;
  IDBObjectStore.prototype.put = function (value, key) {
    const asked = put.call(this, value, key);
    if (this.name !== "entries" || !isFirst) return asked;
    isFirst = false;
    const { db } = this.transaction;
    this.transaction.addEventListener("complete", () => {
      db.transaction("entries", "readwrite").objectStore("entries").delete(value.key);
    });
    return asked;
  };
"""


def test_what_is_neither_here_nor_sent_is_said_and_saved_again_once(
    page, context, tree
):
    page.add_init_script(TAKEN_BACK)
    context.set_offline(True)
    go(page, FORM)
    note_sucker(page)
    page.get_by_role("button", name="Save").click()
    said = page.locator("[data-kept-said=refused]")
    expect(said).to_contain_text("It is no longer in this phone's outbox")
    expect(said).to_contain_text("it is recorded only once")
    expect(page.locator('[name="sucker:graft"][value="below"]')).to_be_checked()
    shot(page, "neither-here-nor-sent-390")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    assert Inspection.objects.get().findings.get().sign == "sucker"


def test_a_store_that_does_not_answer_is_not_taken_for_an_empty_one(page, tree):
    hurry(page, STORE_PATIENCE, to=1000)
    # The mark is there when the page is: the one before it may still take it away.
    page.add_init_script(
        "IDBFactory.prototype.open = function never() { return {}; };"
        "localStorage.setItem('orchard-outbox', 'holds');"
    )
    go(page, TREE)
    tray = page.locator("#tray")
    expect(tray).to_contain_text("store does not answer", timeout=30000)
    shot(page, "tray-silent-store")
    assert page.evaluate("localStorage.getItem('orchard-outbox')") == "holds"
    go(page, "/outbox/")
    state = page.locator("[data-state]")
    expect(state).to_contain_text("Nothing in it is lost", timeout=30000)


def test_a_withdrawal_that_is_refused_is_not_offered_without_its_record(
    page, context, tree
):
    go(page, TREE)
    page.get_by_role("button", name="All well").click()
    undo = page.get_by_role("button", name="Undo")
    expect(undo).to_be_visible()
    Inspection.objects.update(all_well=False, note="Not clean after all")
    undo.click()
    expect(page.locator("#tray")).to_contain_text("1 refused: it needs you")
    go(page, "/outbox/")
    row = page.locator('[data-entry-state="refused"]')
    expect(row.get_by_role("button", name="Send again")).to_be_visible()
    expect(row.get_by_role("button", name="without its record")).to_have_count(0)


def test_a_wrong_day_out_of_sight_is_shown_when_it_is_saved(page, tree):
    go(page, FORM)
    note_sucker(page)
    page.get_by_role("button", name="Condition, note, tasks done").click()
    page.get_by_text("Note, growth stage, another day").click()
    page.fill("#seen_day", "2999-05-01")
    page.get_by_text("Note, growth stage, another day").click()
    page.go_back()
    expect(page.locator('form[data-screen="verdict"]')).to_be_visible()
    page.get_by_role("button", name="Save").click()
    expect(page.locator('form[data-screen="more"]')).to_be_visible()
    expect(page.locator("#seen_day")).to_be_focused()
    shot(page, "wrong-day-shown")
    assert entries(page) == []
    assert Inspection.objects.count() == 0


def test_a_page_of_who_was_signed_in_before_asks_whose_record_it_is(
    page, context, tree, vera, lee
):
    second = context.new_page()
    go(second, "/alderbrook/")
    sign_out(second)
    sign_in(second, lee, PASSWORD)
    expect(second.locator("body")).to_have_attribute("data-person", str(lee.pk))
    settled(second)

    note_sucker(page)
    page.get_by_role("button", name="Save").click()
    asked = page.locator("[data-kept-said=refused]")
    expect(asked).to_contain_text("Vera opened this page; Lee has signed in")
    shot(page, "whose-record")
    assert entries(page) == []
    page.get_by_role("button", name="Vera saw it: keep it").click()
    expect(page.locator("#tray")).to_contain_text("1 from Vera waits")
    [entry] = entries(page)
    assert entry["person"] == vera.pk
    assert Inspection.objects.count() == 0


def test_what_another_form_cannot_show_is_named_and_goes_along(
    page, context, orchard, tree
):
    apple = Kind.objects.create(orchard=orchard, name="Own apple", host="pome")
    make_tree(orchard, "P-1", kind=apple)
    context.set_offline(True)
    go(page, FORM)
    note_sucker(page)
    page.get_by_role("button", name="Another sign").click()
    page.fill("#word", "leafminer")
    tap(page, "sign", "leafminer")
    page.get_by_role("button", name="Next").click()
    write_note(page, "One line,\nand another")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    [before] = entries(page)
    type(tree).objects.filter(pk=tree.pk).update(code="A-9")
    context.set_offline(False)
    go(page, "/outbox/")
    expect(page.locator("[data-entry]")).to_contain_text("There is no tree A-1 here")
    page.get_by_label("It was another tree:").fill("P-1")
    page.get_by_role("button", name="Open its form").click()
    unshown = page.locator("[data-unshown]")
    expect(unshown).to_contain_text("sign: leafminer")
    expect(unshown.locator("input")).to_have_count(1)
    expect(page.locator("#note")).to_have_value("One line,\nand another")
    expect(page.locator('[name="sucker:graft"][value="below"]')).to_be_checked()
    shot(page, "mending-unshown")
    page.get_by_role("button", name="Save").click()
    # An apple has no citrus leafminer: the book says so, and the entry is still whole.
    expect(page.locator("[data-kept-said=refused]")).to_contain_text("Refused:")
    [after] = entries(page)
    assert after["made_at"] == before["made_at"]
    assert ["sign", "leafminer"] in after["fields"]["form"]
    unshown.get_by_label("sign: leafminer").uncheck()
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(re.compile(r"/alderbrook/inspections/\d+/$"))
    look = Inspection.objects.get()
    assert (look.tree.code, look.findings.get().sign) == ("P-1", "sucker")
    assert look.seen_at == datetime.fromisoformat(before["made_at"])


def test_nothing_is_sent_under_another_persons_name(page, context, tree, vera, lee):
    context.set_offline(True)
    go(page, TREE)
    page.get_by_role("button", name="All well").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    # Vera is signed out elsewhere and Lee signs in on the same phone.
    Session.objects.all().delete()
    context.set_offline(False)
    go(page, "/sign-in/")
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    expect(page.locator("#tray")).to_contain_text("Sign in, then it goes on by itself")
    shot(page, "signed-out")
    sign_in(page, lee, PASSWORD)
    expect(page.locator("#tray")).to_contain_text(
        "1 from Vera waits until Vera signs in"
    )
    go(page, "/outbox/")
    expect(page.locator("[data-entry]")).to_contain_text("Waits until Vera signs in")
    shot(page, "outbox-other-person")
    page.get_by_role("button", name="Send now").click()
    page.wait_for_timeout(500)
    assert Inspection.objects.count() == 0
    go(page, "/alderbrook/")
    sign_out(page)
    sign_in(page, vera, PASSWORD)
    expect(page.locator(".notices")).to_contain_text("Saved: A-1, all well")
    assert Inspection.objects.get().by == vera


def test_signing_out_takes_the_pages_and_leaves_the_outbox(page, context, tree):
    go(page, "/alderbrook/")
    names = page.evaluate("caches.keys()")
    assert any(name.startswith("pages-") for name in names)
    context.set_offline(True)
    go(page, TREE)
    page.get_by_role("button", name="All well").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    context.route("**/inbox/", lambda route: route.abort())
    context.set_offline(False)
    go(page, "/alderbrook/")
    sign_out(page)
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    names = page.evaluate("caches.keys()")
    assert not any(name.startswith(("pages-", "guide-")) for name in names), names
    assert len(entries(page)) == 1


def test_an_entry_goes_out_as_a_file_and_comes_in_again(page, context, tree, tmp_path):
    context.set_offline(True)
    go(page, FORM)
    note_sucker(page)
    page.set_input_files(
        "#photos",
        {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": picture()},
    )
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    before = entries(page)
    go(page, "/outbox/")
    files = []
    for entry in before:
        row = page.locator(f'[data-entry="{entry["key"]}"]')
        expect(row.get_by_text("Remove", exact=True)).to_have_count(0)
        with page.expect_download() as coming:
            row.get_by_role("button", name="Save as a file").click()
        files.append(tmp_path / f"{len(files)}.json")
        coming.value.save_as(files[-1])
        row.get_by_text("Remove", exact=True).click()
        shot(page, "outbox-remove")
        row.get_by_role("button", name="Yes, remove it").click()
        expect(row).to_have_count(0)
    assert entries(page) == []
    assert json.loads(files[1].read_text())["entries"][0]["bytes"]

    page.set_input_files("[data-take-in]", files[0])
    expect(page.locator("[data-taken]")).to_contain_text("1 entry waits here again")
    page.set_input_files("[data-take-in]", files[0])
    expect(page.locator("[data-taken]")).to_contain_text("stands here already")
    page.set_input_files("[data-take-in]", files[1])
    expect(page.locator("[data-entry]")).to_have_count(2)
    page.set_input_files(
        "[data-take-in]",
        {"name": "x.json", "mimeType": "application/json", "buffer": b"{}"},
    )
    expect(page.locator("[data-taken]")).to_contain_text("isn't a file of entries")
    context.set_offline(False)
    all_sent(page)
    assert Photo.objects.get().inspections.get() == Inspection.objects.get()


FULL = """
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (value, key) {
    if (this.name === "bytes") throw new DOMException("full", "QuotaExceededError");
    return put.call(this, value, key);
  };
"""
NONE = "Object.defineProperty(window, 'indexedDB', { value: undefined });"


def test_a_phone_that_cannot_keep_says_so_and_sends_at_once(page, context, tree):
    page.add_init_script(NONE)
    go(page, FORM)
    note_sucker(page)
    page.set_input_files(
        "#photos", {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    )
    context.set_offline(True)
    page.get_by_role("button", name="Save").click()
    said = page.locator("[data-kept-said=refused]")
    expect(said).to_contain_text("Not saved yet.")
    expect(said).to_contain_text("let the app store")
    expect(said).to_contain_text("Leave this page open")
    shot(page, "cannot-keep")
    expect(page.locator('[name="sucker:graft"][value="below"]')).to_be_checked()
    assert Inspection.objects.count() == 0
    context.set_offline(False)
    page.get_by_role("button", name="Save").click()
    expect(said).to_contain_text("Send it now, while there is signal")
    page.get_by_role("button", name="Send it without keeping it").click()
    page.wait_for_url(re.compile(r"/alderbrook/inspections/\d+/$"))
    assert Photo.objects.filter(inspections=Inspection.objects.get()).count() == 1


def test_a_photo_without_room_leaves_the_record_safe_and_is_named(page, context, tree):
    page.add_init_script(FULL)
    go(page, FORM)
    note_sucker(page)
    page.set_input_files(
        "#photos", {"name": "good.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    )
    expect(page.get_by_text("no room to keep what you note")).to_be_visible()
    context.set_offline(True)
    page.get_by_role("button", name="Save").click()
    said = page.locator("[data-kept-said=refused]")
    expect(said).to_contain_text("The record is saved on this phone.")
    expect(said).to_contain_text("Photo 1 (good.jpg) is not saved: This phone has no")
    shot(page, "photo-without-room")
    assert [entry["kind"] for entry in entries(page)] == ["inspection"]
    context.set_offline(False)
    until(page, Inspection.objects.exists)
    page.get_by_role("button", name="Save").click()
    page.get_by_role("button", name="Send the photo without keeping it").click()
    page.wait_for_url(re.compile(r"/alderbrook/inspections/\d+/$"))
    assert Photo.objects.get().inspections.get() == Inspection.objects.get()


def test_a_photo_keeps_its_moment_and_is_shrunk_upright(page, context, tree):
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8769)[0x9003] = "2026:05:12 08:30:15"
    exif.get_ifd(0x8769)[0x9011] = "+02:00"
    large = picture(size=(3000, 2000), exif=exif)
    go(page, FORM)
    note_sucker(page)
    photo = {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": large}
    strange = {
        "name": "IMG_2.heic",
        "mimeType": "image/heic",
        "buffer": b"no picture at all",
    }
    page.set_input_files("#photos", [photo, strange])
    context.set_offline(True)
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("3 waiting since")
    shrunk, as_it_came = entries(page)[1:]
    assert shrunk["fields"]["taken_at"] == "2026-05-12T06:30:15.000Z"
    assert shrunk["size"] != len(large)
    assert as_it_came["size"] == len(strange["buffer"])
    context.set_offline(False)
    go(page, "/outbox/")
    expect(page.locator("[data-entry]")).to_have_count(1, timeout=30000)
    expect(page.locator("[data-entry]")).to_contain_text("Refused:")
    expect(
        page.get_by_role("button", name="Send it without its record")
    ).to_be_visible()
    shot(page, "outbox-photo-refused")
    kept_photo = Photo.objects.get()
    assert kept_photo.taken_at.isoformat() == "2026-05-12T06:30:15+00:00"
    assert (kept_photo.width, kept_photo.height) == (1365, 2048)


def test_pages_open_without_signal_and_say_how_old_they_are(page, context, tree):
    page.evaluate(
        """async (path) => {
          // The copy of an hour ago, as a phone in a shed has it.
          const names = await caches.keys();
          const name = names.find((one) => one.startsWith("pages-"));
          const cache = await caches.open(name);
          const html = await (await cache.match(path, { ignoreVary: true })).text();
          const old = html.replace(/data-rendered-at="[^"]+"/,
            `data-rendered-at="${new Date(Date.now() - 3600_000).toISOString()}"`);
          const headers = { "content-type": "text/html" };
          await cache.put(path, new Response(old, { headers }));
        }""",
        TREE,
    )
    context.set_offline(True)
    go(page, TREE)
    expect(page.locator("h1")).to_have_text("A-1")
    expect(page.locator("#tray")).to_contain_text("This page is as of")
    shot(page, "tree-stale")
    go(page, "/alderbrook/ledger/")
    expect(page.locator("h1")).to_have_text("No signal here")
    expect(page.locator("[data-trees]")).to_contain_text("A-1")
    shot(page, "no-signal")
    context.set_offline(False)
    go(page, TREE)
    expect(page.locator("#tray")).to_be_hidden()


def test_the_guide_comes_along_by_itself(page, context, tree):
    go(page, "/alderbrook/")
    kept(page, "/alderbrook/guide/")
    context.set_offline(True)
    go(page, "/alderbrook/guide/")
    expect(page.locator("h1")).to_be_visible()
    expect(page.locator("h1")).not_to_have_text("No signal here")


def test_two_tabs_send_an_entry_once(page, context, tree):
    context.set_offline(True)
    go(page, TREE)
    page.get_by_role("button", name="All well").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    second = context.new_page()
    go(second, "/outbox/")
    expect(second.locator("[data-entry]")).to_have_count(1)
    context.set_offline(False)
    expect(second.locator("[data-entry]")).to_have_count(0, timeout=30000)
    expect(page.locator("#tray")).to_be_hidden()
    assert Receipt.objects.count() == Inspection.objects.count() == 1


def test_photos_without_a_record_wait_and_go_into_the_tray(page, context, tree):
    go(page, "/alderbrook/strays/")
    context.set_offline(True)
    page.set_input_files(
        "input[type=file]",
        [
            {"name": f"{n}.jpg", "mimeType": "image/jpeg", "buffer": picture(colour)}
            for n, colour in enumerate(("olive", "tan"))
        ],
    )
    page.locator("form[data-outbox] button.primary").click()
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    words = "Saved on this phone: 2 photos without a record."
    expect(page.get_by_text(words)).to_be_visible()
    expect(page.locator(".stray")).to_have_count(0)
    context.set_offline(False)
    expect(page.locator("#tray")).to_be_hidden(timeout=30000)
    assert Photo.objects.filter(trees=None, inspections=None).count() == 2
    # What arrived stands on the page by itself, and the form stays as it was left.
    expect(page.locator(".stray")).to_have_count(2)
    expect(page.get_by_text("2 photos wait.")).to_be_visible()
    expect(page.locator("input[type=file]")).to_be_visible()


def test_a_new_version_waits_for_the_person_and_never_interrupts_a_form(
    page, context, tree, monkeypatch
):
    go(page, FORM)
    monkeypatch.setattr(views, "version_of", lambda files: "anotherday00")
    page.evaluate("navigator.serviceWorker.getRegistration().then((r) => r.update())")
    notice = page.locator("[data-newer]")
    expect(notice).to_contain_text("A new version of these pages is ready.")
    note_sucker(page)
    notice.get_by_role("button", name="Reload").click()
    expect(notice).to_contain_text("A form is open and not saved.")
    expect(page.locator('[name="sucker:graft"][value="below"]')).to_be_checked()
    page.get_by_role("button", name="Save").click()
    page.wait_for_url(re.compile(r"/alderbrook/inspections/\d+/$"))
    notice.get_by_role("button", name="Reload").click()
    expect(notice).to_have_count(0)
    assert "shells anotherday00" in page.evaluate("caches.keys()")
