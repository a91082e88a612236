"""What a browser shows of an outage: a form that stays, a part of a page that is older.

The form is sent without scripts, for with them a phone keeps its records itself.
"""

from __future__ import annotations

import errno
import re

import pytest
from playwright.sync_api import expect

from orchard.records.models import Inspection, Photo
from orchard.web.pages.tasks import board_views
from tests.flows.conftest import DESK, PHONE, opened, signed_in, touch
from tests.mishaps import folder_away


@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_a_look_with_a_photo_is_sent_again(
    browser, live_server, own_store, tree, vera, camera_photo, viewport
):
    with opened(
        browser,
        base_url=live_server.url,
        viewport=viewport,
        java_script_enabled=False,
    ) as context:
        page = context.new_page()
        signed_in(page, vera)
        page.goto("/alderbrook/trees/A-1/inspections/new/?word=sucker")
        page.locator('label.tile:has(input[name="sign"][value="sucker"])').click()
        page.get_by_role("button", name="Read the verdict").last.click()
        for name, value in (("sucker:graft", "below"), ("sucker:woody", "no")):
            touch(
                page.locator(f'label.tile:has(input[name="{name}"][value="{value}"])')
            )
        page.locator("details:has(#note) > summary").click()
        page.fill('textarea[name="note"]', "Two shoots,\nboth “soft”.")
        page.set_input_files('input[name="sucker:photo"]', camera_photo)
        with folder_away(own_store):
            page.get_by_role("button", name="Save").click()
            expect(page.get_by_role("heading", level=1)).to_have_text("Not saved")
            expect(page.get_by_role("alert")).to_contain_text("Nothing")
            assert not Inspection.objects.exists()
        shown = page.locator("body")
        assert shown.evaluate("it => it.scrollWidth") <= viewport["width"]
        page.set_input_files("input[type=file]", camera_photo)
        page.get_by_role("button", name="Send again").click()
        expect(page).to_have_url(re.compile(r"/inspections/\d+/$"))
    look = Inspection.objects.get()
    assert look.note.splitlines() == ["Two shoots,", "both “soft”."]
    assert look.findings.get().sign == "sucker"
    assert Photo.objects.get().findings.get() == look.findings.get()


@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_a_part_that_does_not_come_says_so_and_comes_when_asked_again(
    browser, live_server, tree, vera, monkeypatch, viewport
):
    def fail(*_args, **_options):
        raise OSError(errno.ENOSPC, "as it says")

    with opened(browser, base_url=live_server.url, viewport=viewport) as context:
        page = context.new_page()
        signed_in(page, vera)
        page.goto("/alderbrook/board/")
        page.get_by_text("Filter", exact=True).click()
        late, notice = page.get_by_label("Late only"), page.get_by_role("alert")
        with monkeypatch.context() as patched:
            patched.setattr(board_views.tasks, "board_for", fail)
            late.check()
            expect(notice).to_contain_text("The server's disk is full.")
        expect(late).to_be_focused()
        assert (
            page.locator("body").evaluate("it => it.scrollWidth") <= viewport["width"]
        )
        context.set_offline(True)
        notice.get_by_role("button", name="Try again").click()
        expect(notice).to_contain_text("The server can't be reached.")
        context.set_offline(False)
        notice.get_by_role("button", name="Try again").click()
        expect(notice).to_have_count(0)
        expect(page).to_have_url(re.compile(r"late=on"))
        expect(page.get_by_role("button", name="Show")).to_be_focused()
