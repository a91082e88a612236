"""Work without signal: closed, skipped, taken on the phone; it arrives once, later."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from orchard.records.models import (
    Closure,
    Happening,
    Inspection,
    Photo,
    PracticeAnswer,
    Receipt,
    RipenessTest,
    SecondLook,
    StageNote,
    Watering,
)
from orchard.services import inspections, tasks
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, PASSWORD, TODAY
from tests.flows.conftest import (
    all_sent,
    entries,
    fits,
    go,
    hurry,
    kept,
    picture,
    settled,
    sign_in,
    sign_out,
    tap,
)
from tests.services.tasks.test_tasks import make_task


@pytest.fixture
def task(tree):
    return make_task(tree)


@pytest.fixture
def page(context, vera, task, own_store):
    page = context.new_page()
    page.broken = []
    page.on("pageerror", lambda fault: page.broken.append(str(fault)))
    sign_in(page, vera, PASSWORD)
    settled(page)
    yield page
    assert not page.broken, page.broken


def under_the_trees(page, context, *paths):
    """Open pages once while there is signal, then take it away."""
    for path in paths:
        go(page, path)
        page.wait_for_load_state("networkidle")
        kept(page, path)
    context.set_offline(True)


def test_work_closed_without_signal_is_kept_changed_and_arrives_once(
    page, context, task, vera
):
    closing = f"/alderbrook/tasks/{task.pk}/closure/"
    under_the_trees(page, context, closing)
    go(page, closing)
    page.fill('[name="done-evidence"]', "three taken off")
    page.set_input_files(
        '[name="done-photo"]',
        {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": picture()},
    )
    page.get_by_role("button", name="Close task").click()
    said = page.locator("[data-kept-said=done]")
    expect(said).to_contain_text("Saved on this phone: Sucker round, A-1.")
    expect(said).to_contain_text("1 photo goes after it.")
    work, photo = entries(page)
    assert (work["kind"], work["fields"]["task"]) == ("closure", str(task.pk))
    assert photo["fields"]["inspection"] == work["key"]

    # It waits on the outbox, where it can be opened and changed.
    go(page, "/outbox/")
    expect(page.locator("[data-state]")).to_contain_text(
        "It is sent while the app is open"
    )
    row = page.locator(f'[data-entry="{work["key"]}"]')
    expect(row).to_contain_text("Sucker round, A-1")
    row.get_by_role("link", name="Open and change").click()
    expect(page.locator("[data-kept-said]")).to_contain_text("You are changing")
    expect(page.locator('[name="done-evidence"]')).to_have_value("three taken off")
    page.fill('[name="done-evidence"]', "four taken off")
    page.get_by_role("button", name="Close task").click()
    expect(said).to_contain_text("Saved on this phone: Sucker round, A-1.")
    assert [one["key"] for one in entries(page)] == [work["key"], photo["key"]]
    assert not Closure.objects.exists()

    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    closure = Closure.objects.get()
    assert (closure.by, closure.evidence) == (vera, "four taken off")
    assert closure.photos.get() == Photo.objects.get()
    assert sorted(Receipt.objects.values_list("kind", flat=True)) == [
        "closure",
        "photo",
    ]


def test_work_is_closed_at_once_where_there_is_signal_and_can_be_undone(
    page, task, tree
):
    go(page, f"/alderbrook/tasks/{task.pk}/closure/?back=board&at=late%3Don")
    page.get_by_role("button", name="Close task").click()
    # Back to the place on the board that one came from.
    page.wait_for_url("**/alderbrook/board/?late=on**")
    expect(page.locator(".notices")).to_contain_text("Sucker round, A-1: closed.")
    page.locator(".notices").get_by_role("button", name="Undo").click()
    expect(page.locator(".notices")).to_contain_text("is open again")
    task.refresh_from_db()
    assert task.closed_at is None


def test_whoever_comes_too_late_reads_who_closed_it(page, context, task, lee):
    closing = f"/alderbrook/tasks/{task.pk}/closure/"
    under_the_trees(page, context, closing)
    go(page, closing)
    page.fill('[name="done-evidence"]', "three taken off")
    page.get_by_role("button", name="Close task").click()
    expect(page.locator("[data-kept-said=done]")).to_be_visible()
    tasks.close(task, by=lee, now=NOW, today=TODAY)
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    expect(page.locator("[data-arrived]")).to_contain_text("Lee has done this already")


def test_a_task_taken_without_signal_is_taken_back_on_the_outbox(page, context, task):
    show = f"/alderbrook/tasks/{task.pk}/"
    under_the_trees(page, context, show)
    go(page, show)
    page.get_by_role("button", name="Take", exact=True).click()
    expect(page.locator("[data-kept-said=done]")).to_contain_text("Saved on this phone")
    go(page, "/outbox/")
    row = page.locator("[data-entry]")
    row.get_by_text("Withdraw", exact=True).click()
    row.get_by_role("button", name="Yes, withdraw").click()
    all_sent(page)
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    task.refresh_from_db()
    assert task.taken_by is None
    assert not Receipt.objects.exists()


def test_a_day_of_notes_without_signal_arrives_whole(page, context, tree, vera):
    watering = "/alderbrook/waterings/"
    testing = "/alderbrook/ripeness-tests/"
    event = "/alderbrook/trees/A-1/events/"
    stage = "/alderbrook/trees/A-1/stages/"
    hurry(context)
    go(page, "/alderbrook/")
    # These come along by themselves once a page is open for a moment.
    kept(page, watering)
    kept(page, testing)
    under_the_trees(page, context, event, stage)
    said = page.locator("[data-kept-said=done]")

    go(page, f"{watering}?tree=A-1")
    page.fill('[name="tree"]', "A-1")
    page.fill('[name="litres"]', "40")
    page.get_by_role("button", name="Save").click()
    expect(said).to_contain_text("Saved on this phone: Watering, A-1.")

    go(page, testing)
    page.fill('[name="tree"]', "A-1")
    page.fill('[name="brix_read"]', "11")
    page.get_by_role("button", name="Save").click()
    expect(said).to_contain_text("Saved on this phone: Test of ripeness, A-1.")

    go(page, event)
    tap(page, "what", "other")
    page.fill('[name="note"]', "A branch came down")
    page.get_by_role("button", name="Save").click()
    expect(said).to_contain_text("Saved on this phone: Something happened, A-1.")

    go(page, stage)
    page.select_option('[name="bbch"]', "65")
    page.get_by_role("button", name="Save").click()
    expect(said).to_contain_text("Saved on this phone: Growth stage, A-1.")

    assert [one["kind"] for one in entries(page)] == [
        "watering",
        "ripeness_test",
        "event",
        "stage",
    ]
    assert not Receipt.objects.exists()
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    assert Receipt.objects.count() == 4
    assert Watering.objects.get(tree=tree, by=vera).litres == 40
    assert RipenessTest.objects.get(tree=tree, by=vera).brix_read == 11
    assert Happening.objects.get(tree=tree).note == "A branch came down"
    assert StageNote.objects.get(tree=tree).bbch == 65


def test_a_clean_look_is_undone_without_signal(page, context, tree, vera):
    go(page, "/alderbrook/trees/A-1/")
    page.get_by_role("button", name="All well").click()
    undo = page.locator(".notices").get_by_role("button", name="Undo")
    expect(undo).to_be_visible()
    context.set_offline(True)
    undo.click()
    expect(page.locator("[data-kept-said=done]")).to_contain_text("Withdrawn: A-1")
    assert Inspection.objects.get().withdrawn_at is None
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    assert Inspection.objects.get().withdrawn_by == vera


def test_a_second_look_is_answered_without_signal(page, context, lee, vera, tree):
    inspections.record(
        tree,
        by=vera,
        now=NOW,
        seen_at=NOW,
        findings=[SeenSign("sucker", {"graft": "below", "woody": False}, sure=False)],
        condition=3,
    )
    look = SecondLook.objects.get()
    go(page, "/alderbrook/")
    sign_out(page)
    sign_in(page, lee, PASSWORD)
    answering = f"/alderbrook/second-looks/{look.pk}/"
    under_the_trees(page, context, answering)
    go(page, answering)
    tap(page, "answer", "other")
    page.select_option('[name="sign"]', "water_sprout")
    page.get_by_role("button", name="Answer").click()
    refused = page.locator("[data-kept-said=refused]")
    expect(refused).to_contain_text("no signal to fetch them")
    tap(page, "answer", "agreed")
    page.get_by_role("button", name="Answer").click()
    expect(page.locator("[data-kept-said=done]")).to_contain_text("Second look, A-1")
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    look.refresh_from_db()
    assert (look.answered_by, look.answer) == (lee, "agreed")


def test_practice_without_signal_counts_once_it_is_back(page, context, tree, vera):
    practice = "/alderbrook/guide/practice/"
    under_the_trees(page, context, practice)
    go(page, practice)
    first = page.locator(".card:visible")
    right = first.get_attribute("data-sign")
    first.locator(f'input[value="{right}"]:visible').check()
    first.get_by_text("See what it is").click()
    expect(first.locator(".outcome")).to_have_text("Right.")
    first.get_by_role("button", name="Next question").click()
    second = page.locator(f'.card:visible:not([data-sign="{right}"])')
    other = second.get_attribute("data-sign")
    second.locator(f'input:visible:not([value="{other}"])').first.check()
    second.get_by_text("See what it is").click()
    expect(page.locator("[data-score]")).to_contain_text("1 of 2 right")
    expect(page.locator("#tray")).to_contain_text("2 waiting since")
    fits(page, "practice-away")
    # Answered again on the same day it is said, and counts no more.
    go(page, practice)
    first.locator(f'input[value="{right}"]:visible').check()
    first.get_by_text("See what it is").click()
    expect(first.locator(".outcome")).to_have_text("Right.")
    expect(page.locator("[data-score]")).to_contain_text("1 of 2 right")
    assert len(entries(page)) == 2
    go(page, "/outbox/")
    expect(page.locator("main")).not_to_contain_text(right)
    context.set_offline(False)
    go(page, "/outbox/")
    all_sent(page)
    rows = PracticeAnswer.objects.order_by("answered_at")
    assert [(row.by, row.sign, row.is_right) for row in rows] == [
        (vera, right, True),
        (vera, other, False),
    ]
    # What was answered comes last on the page that is fetched anew.
    go(page, practice)
    assert first.get_attribute("data-sign") not in (right, other)
