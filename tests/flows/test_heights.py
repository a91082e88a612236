"""How long a page may be, in screens of the device, and on how much paper it fits.

The measures are those the book has set itself. The tree has a long life and much to
do; of the guide the sheets with the most to say are measured.
"""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.utils import timezone
from pypdf import PdfReader

from orchard.records.models import Task
from orchard.science import guide
from orchard.science.guide import Sign
from orchard.services import cases, inspections
from orchard.services.inspections import SeenSign
from tests.conftest import PASSWORD, make_tree
from tests.flows.conftest import DESK, NARROW, PHONE, sign_in
from tests.services.timeline.test_timeline import busy_life, look, snap
from tests.web.trees.test_tree_page import open_task

pytestmark = pytest.mark.on_sqlite

# Screens of the device: the tree before what is folded or asked for, a sheet whole.
TREE_DESK, TREE_PHONE = 1.5, 3
SIGN_DESK, SIGN_PHONE = 2, 3
CASE_PHONE = 2.25
TREE_SHEETS, SIGN_SHEETS = 2, 1
# As many sheets of the guide as can be measured in a few seconds.
MOST_SAID = 12
PAPER = ("A4", "Letter")


def screens(page, size) -> float:
    """Return how many screens of a size the open page is long."""
    page.set_viewport_size(size)
    # A frame later the page stands as wide as its window.
    page.evaluate("() => new Promise((go) => requestAnimationFrame(() => go()))")
    height = page.evaluate("document.documentElement.scrollHeight")
    return round(height / size["height"], 2)


def sheets(page, paper: str) -> int:
    """Return on how many sheets the open page is printed."""
    return len(PdfReader(io.BytesIO(page.pdf(format=paper))).pages)


@pytest.fixture
def old_tree(orchard, vera, lee, cora):
    """A tree with a long name, years of records, findings and photos, much to do."""
    now = timezone.now()
    tree = make_tree(
        orchard,
        "A-1",
        kind="Washington navel from the old terrace behind the chapel",
        note="Stood in a container for its first three years.",
    )
    busy_life(tree, [vera, lee], count=150)
    for weeks in range(60, 0, -4):
        at = now - timedelta(weeks=weeks)
        look(tree, vera, at=at, condition=2 + weeks // 20, note="Some thin growth")
    for day in range(3):
        snap(tree, vera, at=now - timedelta(days=day), caption="The whole tree")
    inspections.record(
        tree,
        by=vera,
        now=now,
        seen_at=now,
        findings=[
            SeenSign("sucker", {"graft": "below", "woody": False}),
            SeenSign("aphids", {"pct": 30}),
            SeenSign("soft_scale", {"pct": 30}),
        ],
    )
    for number in range(6):
        open_task(tree, f"Take care of the tree in the way named {number}")
    assert Task.objects.filter(tree=tree, closed_at=None).count() >= 8
    return tree


def test_a_tree_with_a_long_life_is_told_in_a_few_screens(desk, old_tree, cora):
    sign_in(desk, cora, PASSWORD)
    desk.goto("/alderbrook/trees/A-1/")
    assert screens(desk, DESK) <= TREE_DESK
    assert screens(desk, PHONE) <= TREE_PHONE
    desk.set_viewport_size(DESK)
    assert {paper: sheets(desk, paper) for paper in PAPER} == dict.fromkeys(
        PAPER, TREE_SHEETS
    )
    # What was folded away is there for whoever asks: a year of it fills screens.
    desk.goto("/alderbrook/trees/A-1/?year=2024")
    assert screens(desk, DESK) > 2 * TREE_DESK


def words_of(sign: Sign) -> int:
    """Count the letters a sheet has to say, to find the longest."""
    alike = sum(len(one.tell) + 60 for one in sign.alike)
    rules = sum(len(rule.because) + 80 for rule in sign.rules)
    steps = sum(len(step.do) + 30 for step in sign.steps)
    texts = (*sign.do_not, *sign.caution, sign.look_for, sign.why)
    return alike + rules + steps + sum(map(len, texts))


def longest_signs() -> list[str]:
    signs = sorted(guide.load().signs.values(), key=words_of, reverse=True)
    return [sign.key for sign in signs[:MOST_SAID]]


def test_a_sheet_of_the_guide_is_two_screens_and_one_sheet_of_paper(desk, tree, vera):
    sign_in(desk, vera, PASSWORD)
    too_long = {}
    for sign in longest_signs():
        desk.goto(f"/alderbrook/guide/{sign}/")
        measured = {"desk": screens(desk, DESK), "phone": screens(desk, PHONE)}
        desk.set_viewport_size(DESK)
        measured |= {paper: sheets(desk, paper) for paper in PAPER}
        limits = {"desk": SIGN_DESK, "phone": SIGN_PHONE} | dict.fromkeys(
            PAPER, SIGN_SHEETS
        )
        if any(measured[what] > limit for what, limit in limits.items()):
            too_long[sign] = measured
    assert too_long == {}


def test_a_case_begins_with_whom_to_ring_and_stays_short(phone, tree, vera, cora):
    now = timezone.now()
    seen = [SeenSign("psyllid_nymph", {"count": 1})]
    looked = inspections.record(tree, by=vera, now=now, seen_at=now, findings=seen)
    case = looked.cases[0]
    for hour in range(6):
        cases.note_call(
            case,
            by=cora,
            now=now,
            caller="Cora",
            called="The plant-health office",
            called_at=now - timedelta(hours=hour),
            summary="They sent the photos on and will ring back in the afternoon.",
        )
    sign_in(phone, cora, PASSWORD)
    phone.goto(f"/alderbrook/cases/{case.pk}/")
    assert screens(phone, PHONE) <= CASE_PHONE
    headings = [text.strip() for text in phone.locator("main h2").all_inner_texts()]
    assert headings[:2] == ["What to do next", "Calls"]
    assert phone.locator("main h2").first.bounding_box()["y"] < PHONE["height"]


@pytest.mark.parametrize("size", [NARROW, PHONE], ids=["320", "390"])
def test_a_tree_without_a_record_shows_its_deeds_at_once(phone, tree, vera, size):
    sign_in(phone, vera, PASSWORD)
    phone.goto("/alderbrook/trees/A-1/")
    phone.set_viewport_size(size)
    box = phone.get_by_role("button", name="All well").bounding_box()
    assert box["y"] + box["height"] <= size["height"]
