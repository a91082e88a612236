"""What is taken along for a walk without signal: rounds, their work, and all tags."""

from __future__ import annotations

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from orchard.records.models import Closure, Inspection, Round, Tag
from tests.conftest import NOW, PASSWORD, make_tree
from tests.flows.conftest import (
    FORM,
    TREE,
    all_sent,
    entries,
    fits,
    go,
    hurry,
    kept,
    note_sucker,
    picture,
    shot,
    sign_in,
    sign_out,
    until,
)
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.on_sqlite

# The names of what is kept of one kind on this phone.
SHELVES = """(kind) => caches.keys()
  .then((all) => all.filter((one) => one.startsWith(kind)).sort())"""


def a_round(orchard, vera, lee, trees, name="Morning round") -> Round:
    now = timezone.now()
    row = Round.objects.create(
        orchard=orchard,
        name=name,
        walk_on=now.date(),
        made_by=lee,
        made_at=now,
        taken_by=vera,
        taken_at=now,
    )
    for place, one in enumerate(trees, 1):
        row.stops.create(tree=one, position=place)
    return row


def test_a_round_is_taken_along_and_walked_without_signal(
    page, context, orchard, tree, vera, lee
):
    trees = [tree, *(make_tree(orchard, f"A-{n}") for n in (2, 3))]
    row = a_round(orchard, vera, lee, trees)
    go(page, f"/alderbrook/rounds/{row.pk}/")
    section = page.locator("[data-round-pages]")
    expect(section).to_have_attribute("data-kept", "none")
    section.get_by_role("button", name="Take this round along").click()
    expect(section).to_have_attribute("data-kept", "ready", timeout=60000)
    expect(section).to_contain_text("Ready without signal:")
    shot(page, "round-ready")
    context.set_offline(True)
    go(page, f"/alderbrook/rounds/{row.pk}/")
    expect(section).to_have_attribute("data-kept", "ready")
    go(page, f"/alderbrook/trees/A-3/inspections/new/?round={row.pk}")
    note_sucker(page)
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    go(page, f"/alderbrook/trees/A-2/?round={row.pk}")
    page.get_by_role("button", name="All well").click()
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    looks = Inspection.objects.order_by("pk")
    assert [look.tree.code for look in looks] == ["A-3", "A-2"]
    assert {look.round for look in looks} == {row}


def take_along(page, row):
    go(page, f"/alderbrook/rounds/{row.pk}/")
    page.get_by_role("button", name="Take this round along").click()
    expect(page.locator("[data-kept=ready]")).to_be_visible(timeout=60000)


def test_two_rounds_are_on_the_phone_and_the_page_for_no_signal_says_how_far(
    page, context, orchard, tree, vera, lee
):
    two, three = make_tree(orchard, "A-2"), make_tree(orchard, "A-3")
    Tag.objects.create(tree=three, token="k" * 22, made_at=NOW)
    first = a_round(orchard, vera, lee, [tree, two], "Morning round")
    second = a_round(
        orchard, vera, lee, [three, two], "Round of the far corner by the brook"
    )
    take_along(page, first)
    take_along(page, second)
    context.set_offline(True)
    for row, codes in ((first, ("A-1", "A-2")), (second, ("A-3", "A-2"))):
        go(page, f"/alderbrook/rounds/{row.pk}/")
        expect(page.locator("[data-round-pages]")).to_have_attribute(
            "data-kept", "ready"
        )
        for code in codes:
            go(page, f"/alderbrook/trees/{code}/inspections/new/?round={row.pk}")
            expect(page.locator("h1")).to_have_text(f"What do you see on {code}?")
    go(page, f"/t/{'k' * 22}/")
    expect(page.locator("h1")).to_have_text("A-3")
    go(page, f"/alderbrook/rounds/{first.pk}/")
    page.get_by_role("button", name="A-1 is all well").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    go(page, "/alderbrook/ledger/")
    rounds = page.locator("[data-rounds] li")
    expect(rounds).to_have_count(2)
    expect(rounds.first).to_contain_text("Round of the far corner")
    expect(rounds.first).to_contain_text("2 of 2 trees still to check.")
    expect(rounds.last).to_contain_text("1 of 2 trees still to check.")
    fits(page, "rounds-kept")
    rounds.last.get_by_role("link").click()
    expect(page.locator("h1")).to_have_text("Morning round")
    # One that is over is taken off, and the other stays.
    page.get_by_role("button", name="Remove from this phone").click()
    expect(page.locator("[data-round-pages]")).to_have_attribute("data-kept", "none")
    go(page, f"/alderbrook/trees/A-3/inspections/new/?round={second.pk}")
    expect(page.locator("h1")).to_have_text("What do you see on A-3?")
    go(page, "/alderbrook/ledger/")
    expect(page.locator("[data-rounds] li")).to_have_count(1)


def test_of_more_rounds_than_there_is_room_the_oldest_goes(
    page, context, orchard, tree, vera, lee
):
    row = a_round(orchard, vera, lee, [tree])
    page.evaluate(
        """async (count) => {
          for (let n = 1; n <= count; n += 1) {
            const round = `/alderbrook/rounds/${9000 + n}/pages/`;
            const { person } = document.body.dataset;
            const cache = await caches.open(`round-${9000 + n}-${person}`);
            const at = `2026-05-0${n}T08:00:00.000Z`;
            const state = { kept: 1, missing: 0, at, round };
            await cache.put(round, new Response(JSON.stringify(state)));
          }
        }""",
        6,
    )
    take_along(page, row)
    names = page.evaluate(SHELVES, "round-")
    assert names == sorted(
        [
            f"round-{row.pk}-{vera.pk}",
            *(f"round-{9000 + n}-{vera.pk}" for n in range(2, 7)),
        ]
    )


def test_work_of_a_round_is_closed_without_signal_with_its_photo(
    page, context, orchard, tree, vera, lee
):
    task = make_task(tree, "tag_check", title="Check the tag")
    row = a_round(orchard, vera, lee, [tree])
    take_along(page, row)
    context.set_offline(True)
    go(page, f"{TREE}?round={row.pk}")
    page.get_by_role("link", name="Check the tag").first.click()
    page.locator(f'a[href^="/alderbrook/tasks/{task.pk}/closure/"]').first.click()
    expect(page.locator("h1")).to_contain_text("Check the tag")
    shot(page, "closing-of-a-round-390")
    photo = {"name": "tag.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    page.set_input_files(".done-form input[type=file]", [photo])
    page.get_by_role("button", name="Close task").click()
    page.wait_for_url(f"**{TREE}*")
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    closure = Closure.objects.get(task=task)
    assert closure.by == vera
    assert closure.photos.count() == 1


def test_a_sign_that_was_never_opened_shows_its_card_on_a_round(
    page, context, orchard, tree, vera, lee
):
    other = make_tree(orchard, "A-2")
    row = a_round(orchard, vera, lee, [tree, other])
    go(page, f"/alderbrook/rounds/{row.pk}/")
    page.get_by_role("button", name="Take this round along").click()
    expect(page.locator("[data-kept=ready]")).to_be_visible(timeout=60000)
    context.set_offline(True)
    go(page, f"/alderbrook/trees/A-2/inspections/new/?round={row.pk}")
    note_sucker(page)
    box = page.locator('[data-sign="sucker"]')
    matched = box.locator("[data-plan]:not([hidden])")
    expect(matched.locator("[data-steps] li").first).to_be_visible()
    expect(box.locator("[data-where]")).to_have_count(1)
    # What it looks like stands below the question, one step back.
    page.get_by_role("button", name="Back").click()
    drawings = box.locator(".alikes img")
    expect(drawings.first).to_be_visible()
    for drawing in drawings.all():
        width = drawing.evaluate("(one) => one.decode().then(() => one.naturalWidth)")
        assert width > 0
    shot(page, "card-offline")


def test_a_form_kept_on_an_earlier_round_is_filled_for_the_one_walked(
    page, context, orchard, tree, vera, lee
):
    earlier = a_round(orchard, vera, lee, [tree], "Yesterday's")
    walked = a_round(orchard, vera, lee, [tree], "Today's")
    for path in (TREE, FORM):
        go(page, f"{path}?round={earlier.pk}")
        kept(page, f"{path}?round={earlier.pk}")
    # What was kept without a round by the first look at both goes with it.
    page.evaluate(
        """async (paths) => {
          for (const name of await caches.keys()) {
            for (const path of paths) await (await caches.open(name)).delete(path);
          }
        }""",
        [TREE, FORM],
    )
    context.set_offline(True)

    def held():
        entry = entries(page)[-1]
        return entry["fields"].get("round"), dict(entry["fields"]["form"]).get("round")

    go(page, f"{FORM}?round={walked.pk}")
    note_sucker(page)
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    assert held() == (str(walked.pk), str(walked.pk))
    # By itself, on no round at all: it is not counted for yesterday's.
    go(page, TREE)
    expect(page.locator("#tray")).to_contain_text("1 waiting since")
    page.get_by_role("button", name="All well").click()
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    assert held() == (None, None)
    go(page, f"{TREE}?round={walked.pk}")
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    page.get_by_role("link", name="Something to note").click()
    page.wait_for_url(f"**{FORM}?round={walked.pk}")
    go(page, f"{TREE}?round={walked.pk}")
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    page.get_by_role("button", name="All well").click()
    expect(page.locator("#tray")).to_contain_text("3 waiting since")
    assert held() == (str(walked.pk), str(walked.pk))
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    looks = Inspection.objects.order_by("pk")
    assert [look.round for look in looks] == [walked, None, walked]


def test_a_tag_scanned_before_leads_to_its_tree_without_signal(page, context, tree):
    tag = Tag.objects.create(tree=tree, token="k" * 22, made_at=NOW)
    address = f"/t/{tag.token}/"
    go(page, address)
    page.wait_for_url(f"**{TREE}")
    kept(page, address)
    context.set_offline(True)
    go(page, address)
    expect(page.locator("h1")).to_have_text("A-1")


def tags_came(page, orchard="alderbrook"):
    """Wait for what is brought once a day; the list of tags comes last of it."""
    kept(page, f"/{orchard}/tags/codes/")


def test_a_tag_never_scanned_before_leads_to_page_or_form_without_signal(
    page, context, orchard, tree
):
    other = make_tree(orchard, "B-2")
    for one, letter in ((tree, "k"), (other, "m")):
        Tag.objects.create(tree=one, token=letter * 22, made_at=NOW)
    hurry(context)
    go(page, TREE)
    tags_came(page)
    kept(page, "/alderbrook/inspections/blank/")
    context.set_offline(True)
    go(page, f"/t/{'k' * 22}/")
    expect(page.locator("h1")).to_have_text("A-1")
    go(page, f"/t/{'m' * 22}/")
    expect(page.locator("h1")).to_have_text("What do you see on B-2?")
    # One that was made since: its code is printed on it.
    go(page, f"/t/{'z' * 22}/")
    expect(page.locator("h1")).to_have_text("No signal here")
    expect(
        page.get_by_role("heading", name="This tag is not known on this phone")
    ).to_be_visible()
    fits(page, "tag-unknown")
    page.get_by_label("Code on the tag").fill("b-2")
    page.get_by_role("button", name="Open form").click()
    expect(page.locator("h1")).to_have_text("What do you see on B-2?")


def test_a_tag_on_a_phone_that_knows_nothing_says_what_to_do(page, context, tree, vera):
    sign_out(page)
    context.set_offline(True)
    go(page, f"/t/{'z' * 22}/")
    expect(
        page.get_by_text("The form for any tree is not on this phone either.")
    ).to_be_visible()
    expect(page.get_by_label("Code on the tag")).to_have_count(0)
    shot(page, "tag-unknown-nothing-390")


def test_what_was_brought_once_a_day_comes_again_after_signing_out(
    page, context, tree, vera
):
    hurry(context)
    go(page, TREE)
    tags_came(page)
    sign_out(page)
    until(page, lambda: not page.evaluate(SHELVES, "tags-"))
    sign_in(page, vera, PASSWORD)
    kept(page, "/alderbrook/inspections/blank/")
    tags_came(page)
