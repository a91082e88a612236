"""By keyboard: a task asked for at the board, and a sheet of paper tree by tree."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from orchard.records.models import Inspection, Membership, Task
from tests.conftest import make_person, make_tree
from tests.flows.conftest import NARROW, opened, signed_in
from tests.flows.test_keyboard import Keys
from tests.web.test_who_may import make_task

pytestmark = pytest.mark.on_sqlite
PAINTED = """() => new Promise(done =>
    requestAnimationFrame(() => requestAnimationFrame(done)))"""


def test_a_task_is_added_for_the_trees_on_the_board_and_undone(
    desk, orchard, tree, cora
):
    make_task(orchard, tree, 1)
    make_task(orchard, make_tree(orchard, "B-1"), 2)
    signed_in(desk, cora)
    desk.goto("/alderbrook/board/?block=B")
    keys = Keys(desk)
    keys.go_to("Add task")
    keys.press("Enter")
    expect(desk.get_by_role("heading", level=1)).to_have_text("Add a task")
    # What the board showed is named already.
    expect(desk.locator("#id_codes")).to_have_value("B-1")
    keys.go_to(name="title")
    keys.write("Paint the stakes")
    desk.get_by_label("Kind of work").select_option("none of these")
    keys.press("Enter")
    notice = desk.locator(".notice.done")
    expect(notice).to_contain_text("1 task added.")
    expect(desk).to_have_url(re.compile("block=B"))
    line = desk.locator(".group-line", has_text="Paint the stakes")
    expect(line).to_contain_text("1 tree in B")
    keys.go_to("Undo")
    keys.press("Enter")
    expect(notice).to_contain_text("1 task is as it was.")
    expect(line).to_have_count(0)
    assert not Task.objects.open().filter(kind="once").exists()


def test_wrong_codes_are_said_beside_the_field_and_nothing_is_lost(
    browser, live_server, orchard, tree, cora
):
    with opened(browser, base_url=live_server.url, viewport=NARROW) as context:
        page = context.new_page()
        signed_in(page, cora)
        page.goto("/alderbrook/board/new/?tree=A-1")
        page.get_by_label("Title").fill("Paint the stakes")
        page.get_by_label("Kind of work").select_option("none of these")
        page.get_by_label("Trees", exact=True).fill("A-1 Z-8 Z-9")
        page.get_by_role("button", name="Add task").click()
        field = page.locator(".field.is-wrong")
        expect(field).to_contain_text("Z-8, Z-9")
        expect(page.get_by_label("Title")).to_have_value("Paint the stakes")
        # Its width is right once its sheets are there.
        page.wait_for_load_state()
        assert page.evaluate("document.body.scrollWidth") <= NARROW["width"]
        # Only what belongs to the choice is asked for.
        expect(page.locator("#id_block")).to_be_hidden()
        page.get_by_text("A whole block", exact=True).click()
        expect(page.locator("#id_block")).to_be_visible()
        expect(page.locator("#id_codes")).to_be_hidden()


def stands_ready(page) -> None:
    """Wait until a sheet is painted and takes the next code."""
    page.wait_for_load_state()
    page.evaluate(PAINTED)
    expect(page.locator("#id_tree")).to_be_focused()


def test_a_sheet_of_paper_is_entered_tree_by_tree_by_keyboard(
    desk, orchard, tree, cora
):
    make_tree(orchard, "A-2")
    rosa = make_person("Rosa", orchard, "volunteer")
    week_ago = timezone.now() - timedelta(days=7)
    Membership.objects.filter(user=rosa).update(joined_at=week_ago)
    day = (timezone.now() - timedelta(days=2)).date()
    signed_in(desk, cora)
    desk.goto("/alderbrook/paper/")
    keys = Keys(desk)
    assert keys.stands_at()["name"] == "person"
    keys.write("Rosa")
    desk.locator("#id_day").fill(day.isoformat())
    keys.go_to(name="tree")
    for code in ("a-1", "a-2"):
        keys.write(code)
        keys.press("Enter")
        notice = desk.locator(".notice.done")
        expect(notice).to_contain_text(f"{code.upper()} is all well, seen by Rosa.")
        stands_ready(desk)
        assert keys.stands_at()["name"] == "tree"
        expect(desk.locator("#id_tree")).to_have_value("")
        expect(desk.locator("#id_day")).to_have_value(day.isoformat())
        expect(desk.locator("#id_person option:checked")).to_have_text("Rosa")
    seen = Inspection.objects.order_by("pk")
    assert [(one.tree.code, one.by, one.written_by) for one in seen] == [
        ("A-1", rosa, cora),
        ("A-2", rosa, cora),
    ]
    assert {one.seen_on for one in seen} == {day}
    # Enter after a note saves the note, and says nothing of all being well.
    keys.write("a-2")
    keys.go_to(name="note")
    keys.write("Thin on top")
    keys.press("Enter")
    expect(desk.locator(".notice.done")).to_contain_text("Saved A-2 for Rosa.")
    stands_ready(desk)
    noted = Inspection.objects.get(note="Thin on top")
    assert (noted.tree.code, noted.all_well) == ("A-2", False)
    # A sign is noted on the tree's own form, and leads back to the sheet.
    keys.write("A-1")
    keys.go_to("Note signs")
    keys.press("Enter")
    expect(desk.locator(".notice", has_text="You write this down for")).to_be_visible()
    desk.wait_for_load_state()
    desk.evaluate(PAINTED)
    keys.go_to("All is well")
    keys.press("Enter")
    expect(desk).to_have_url(re.compile(rf"/paper/\?for={rosa.pk}&on={day}"))
    assert Inspection.objects.filter(by=rosa, written_by=cora).count() == 4
