"""How long a page may be, in screens of the device, and on how much paper it fits.

The measures are those the book has set itself. The tree has a long life and much to
do; of the guide the sheets with the most to say are measured.
"""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect
from pypdf import PdfReader

from orchard.records.models import Forecast, Task
from orchard.science import guide, windows
from orchard.science.guide import Sign
from orchard.services import cases, inspections, rounds, treatments
from orchard.services.inspections import SeenSign
from orchard.web import doorkeeper
from tests.conftest import PASSWORD, make_person, make_tree
from tests.flows.conftest import DESK, NARROW, PHONE, sign_in, signed_in
from tests.services.tasks.test_tasks import make_task
from tests.services.timeline.test_timeline import busy_life, look, snap
from tests.services.treatments.helpers import add, allow, use
from tests.services.weather_days import AFTERNOON, JANUARY
from tests.web.trees.test_tree_page import open_task

# Screens of the device: the tree before what is folded or asked for, a sheet whole.
HOME_DESK, HOME_PHONE = 1, 1.5
TREE_DESK, TREE_PHONE = 1.5, 3
SIGN_DESK, SIGN_PHONE = 2, 3
CASE_PHONE = 2.25
TREE_SHEETS = 2
# The usual sheet of the guide is one of paper, those with the most to say are two.
LONGEST_SHEETS, USUAL_SHEETS, LEAST_PT = 2, 1, 9
HOUSE_RULE_PHONE = 4
# A form of what is done in the orchard, whichever part of it is open.
DEED_PHONE = 2
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
    signed_in(desk, cora)
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


def signs_by_length() -> list[str]:
    signs = sorted(guide.load().signs.values(), key=words_of, reverse=True)
    return [sign.key for sign in signs]


def test_a_sheet_of_the_guide_is_two_screens_and_two_sheets_of_paper(desk, tree, vera):
    sign_in(desk, vera, PASSWORD)
    too_long = {}
    for sign in signs_by_length()[:MOST_SAID]:
        desk.goto(f"/alderbrook/guide/{sign}/")
        measured = {"desk": screens(desk, DESK), "phone": screens(desk, PHONE)}
        desk.set_viewport_size(DESK)
        measured |= {paper: sheets(desk, paper) for paper in PAPER}
        limits = {"desk": SIGN_DESK, "phone": SIGN_PHONE} | dict.fromkeys(
            PAPER, LONGEST_SHEETS
        )
        if any(measured[what] > limit for what, limit in limits.items()):
            too_long[sign] = measured
    assert too_long == {}


def test_the_usual_sheet_of_the_guide_is_one_of_paper_in_letters_to_be_read(
    desk, tree, vera
):
    sign_in(desk, vera, PASSWORD)
    signs = signs_by_length()
    # A quarter of the way from the longest to the shortest, and the middle.
    for sign in (signs[len(signs) // 4], signs[len(signs) // 2]):
        desk.goto(f"/alderbrook/guide/{sign}/")
        assert {paper: sheets(desk, paper) for paper in PAPER} == dict.fromkeys(
            PAPER, USUAL_SHEETS
        )
        desk.emulate_media(media="print")
        size = desk.evaluate(
            "getComputedStyle(document.querySelector('main')).fontSize"
        )
        assert float(size.removesuffix("px")) * 72 / 96 >= LEAST_PT
        desk.emulate_media(media="null")


def test_words_of_the_trade_keep_their_drawings_on_paper(desk, tree, vera):
    signed_in(desk, vera)
    desk.goto("/alderbrook/guide/sucker/")
    drawings = desk.locator(".glosses img")
    assert drawings.count() > 0
    desk.emulate_media(media="print")
    assert all(one.is_visible() for one in drawings.all())


def test_the_form_of_the_longest_house_rule_is_folded(phone, tree, cora):
    signs = guide.load().signs.values()
    longest = max(signs, key=lambda sign: len(sign.rules))
    signed_in(phone, cora)
    phone.goto(f"/alderbrook/house-rules/{longest.key}/")
    assert screens(phone, PHONE) <= HOUSE_RULE_PHONE
    rows = phone.locator("details.rule-row")
    assert rows.count() == len(longest.rules)
    assert phone.locator("details.rule-row[open]").count() == 0
    # What somebody changed stands open when the page comes back with it.
    rows.first.locator("summary").click()
    rows.first.get_by_label("Reason shown").fill("")
    phone.get_by_role("button", name="Read it in words first").click()
    phone.wait_for_load_state()
    assert phone.locator("details.rule-row[open]").count() == 1
    assert phone.locator("details.rule-row[open] .is-wrong").is_visible()


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
    signed_in(phone, cora)
    phone.goto(f"/alderbrook/cases/{case.pk}/")
    assert screens(phone, PHONE) <= CASE_PHONE
    headings = [text.strip() for text in phone.locator("main h2").all_inner_texts()]
    assert headings[:2] == ["What to do next", "Calls"]
    assert phone.locator("main h2").first.bounding_box()["y"] < PHONE["height"]


@pytest.mark.parametrize("size", [NARROW, PHONE], ids=["320", "390"])
def test_a_tree_without_a_record_shows_its_deeds_at_once(phone, tree, vera, size):
    signed_in(phone, vera)
    phone.goto("/alderbrook/trees/A-1/")
    phone.set_viewport_size(size)
    box = phone.get_by_role("button", name="All well").bounding_box()
    assert box["y"] + box["height"] <= size["height"]


@pytest.fixture
def full_day(orchard, monkeypatch, vera, lee, eddy, cora):
    """Everything at once that a first page can tell, and much of each."""
    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: AFTERNOON)
    orchard.name = "The Orchard of the Friends of the Lower Garden"
    orchard.crew_hours = 12
    orchard.save()
    month = windows.season_month(JANUARY, float(orchard.latitude))
    cultivars = guide.load().cultivars.values()
    ripe = [one.name for one in cultivars if month in one.ripe_months]
    trees = [
        make_tree(orchard, f"{block}{block}-{number}", kind=ripe[at % len(ripe)])
        for at, block in enumerate("ABCDEFGHIJKL")
        for number in (1, 2)
    ]
    for ahead in range(7):
        Forecast.objects.create(
            orchard=orchard,
            for_on=JANUARY + timedelta(days=ahead),
            made_at=AFTERNOON,
            source="the weather service",
            tmin=-6.0,
            tmax=41.0,
            by=cora,
            received_at=AFTERNOON,
        )
    late = {"opens_on": JANUARY - timedelta(days=9), "rhythm_days": 7}
    week = {**late, "due_on": JANUARY - timedelta(days=2)}
    night = {**late, "due_on": JANUARY - timedelta(days=1)}
    crew = [make_person(f"Bartholomea{n}", orchard, "volunteer") for n in range(5)]
    for tree in trees:
        make_task(tree, "sucker_round", **week)
        make_task(tree, "frost_cover_off", **night)
        make_task(tree, "heat_prep", **week)
        for name in ("skirt", "tag_check", "trunk_wrap"):
            make_task(tree, name, title=f"Look after the {name}", taken_by=vera, **week)
    for number, person in enumerate(crew):
        walk = rounds.make_round(
            orchard,
            by=lee,
            now=AFTERNOON,
            today=JANUARY,
            trees=trees,
            name=f"The long round of the lower garden {number}",
            walk_on=JANUARY,
        )
        rounds.take_round(walk, by=person, now=AFTERNOON)
    suspected = [SeenSign("psyllid_nymph", {"count": 1})]
    unsure = [SeenSign("leafminer", {"pct": 5}, sure=False)]
    for tree in trees[:6]:
        for by, findings in ((vera, suspected), (vera, unsure), (lee, unsure)):
            inspections.record(
                tree, by=by, now=AFTERNOON, seen_at=AFTERNOON, findings=findings
            )
    for second in inspections.open_second_looks(orchard)[:4]:
        inspections.answer_second_look(
            second, by=cora, now=AFTERNOON, answer="agreed", note="Silver trails. " * 9
        )
    for number, tree in enumerate(trees[:12]):
        snap(tree, vera, at=AFTERNOON, caption=f"The whole tree from the gate {number}")
    return {"volunteer": vera, "lead": lee, "educator": eddy, "coordinator": cora}


@pytest.mark.parametrize("role", ["coordinator", "lead", "educator", "volunteer"])
def test_the_first_page_is_one_screen_for_each_role(desk, full_day, role):
    sign_in(desk, full_day[role], PASSWORD)
    desk.goto("/alderbrook/")
    assert screens(desk, DESK) <= HOME_DESK
    assert screens(desk, PHONE) <= HOME_PHONE
    # What cannot wait stands above all else.
    frost = desk.locator("#frost-tonight").bounding_box()
    assert frost["y"] < desk.locator("#q").bounding_box()["y"]
    if role != "educator":
        assert desk.locator("#heat-ahead").is_visible()
    if role in ("coordinator", "lead"):
        assert desk.get_by_text("of work this week, crew: 12 h").is_visible()


KINDS_OF_USE = (
    "trunk_paint", "wound_care", "fertiliser", "mulch", "oil", "soap", "sulfur",
    "copper", "spray", "bait", "trap", "beneficials",
)  # fmt: skip


@pytest.fixture
def busy_block(orchard, lee, cora):
    """A block of twelve trees, each kind of product there, some trees closed."""
    now = timezone.now()
    orchard = allow(orchard)
    trees = [make_tree(orchard, f"B-{number}") for number in range(1, 13)]
    for kind in KINDS_OF_USE:
        for name in ("of the old shed", "for fruit trees, in the large canister"):
            add(orchard, lee, now, kind, name=f"The {kind} {name}", fruit_days=9)
    soap = treatments.products_of(orchard, "soap")[0]
    done = use(soap, *trees[:7], at=now - timedelta(hours=1))
    treatments.record(orchard, done, by=lee, now=now, today=now.date())
    return trees


def too_long(page, name: str) -> dict[str, float]:
    """Measure the open page on the smallest phone; return its screens if too many."""
    tall = screens(page, NARROW)
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= NARROW["width"], name
    return {name: tall} if tall > DEED_PHONE else {}


def in_each_part(page, name: str) -> dict[str, float]:
    """Measure the form with each of its parts open in its turn."""
    found = too_long(page, name)
    parts = page.locator("details.part > summary")
    for at in range(1, parts.count()):
        parts.nth(at).click()
        assert page.locator("details.part[open]").count() == 1
        found |= too_long(page, f"{name}, part {at + 1}")
    return found


def send_without_outbox(page) -> None:
    """Send the form as a browser without scripts does."""
    with page.expect_navigation():
        page.evaluate("document.querySelector('form.brief').submit()")


@pytest.mark.parametrize("kind", KINDS_OF_USE)
def test_a_form_of_a_use_is_two_screens_in_each_of_its_parts(
    phone, busy_block, lee, kind
):
    signed_in(phone, lee)
    address = f"/alderbrook/treatments/new/{kind}/"
    phone.goto(f"{address}?tree=B")
    found = in_each_part(phone, kind)
    # What is wrong stands open, all that was typed is there.
    phone.goto(address)
    phone.fill('[name="trees"]', "Z-9")
    phone.locator('[name="product-0-product"]').select_option(index=1)
    phone.locator('[name="product-0-total"]').fill("3")
    phone.locator('[name="product-0-total_unit"]').select_option("kg")
    send_without_outbox(phone)
    expect(phone.get_by_text("has the code Z-9")).to_be_visible()
    assert phone.input_value('[name="product-0-total"]') == "3"
    found |= too_long(phone, f"{kind}, refused")
    assert found == {}


def test_other_forms_of_the_day_are_two_screens(phone, busy_block, lee):
    signed_in(phone, lee)
    found = {}
    for path in (
        "treatments/new/",
        "harvests/new/",
        "harvests/new/?tree=B",
        "products/new/copper/",
        "products/new/trunk_paint/",
        "products/new/fertiliser/",
        "products/new/mulch/",
    ):
        phone.goto(f"/alderbrook/{path}")
        found |= too_long(phone, path)
    phone.goto("/alderbrook/treatments/new/")
    phone.locator("summary", has_text="Others").click()
    found |= too_long(phone, "the other kinds")
    assert found == {}


def test_a_pick_and_a_label_that_are_refused_are_two_screens(phone, busy_block, lee):
    signed_in(phone, lee)
    phone.goto("/alderbrook/harvests/new/?tree=B")
    phone.locator('[name="amount"]').fill("4")
    send_without_outbox(phone)
    # The hold is said, and the way on stands open.
    expect(phone.locator('[name="anyway"]')).to_be_visible()
    found = too_long(phone, "a pick under a hold")
    phone.goto("/alderbrook/products/new/copper/")
    phone.fill('[name="name"]', "Blue stone")
    phone.fill('[name="ingredients"]', "much")
    send_without_outbox(phone)
    expect(phone.get_by_text("“much” can't be read")).to_be_visible()
    found |= too_long(phone, "a label")
    assert found == {}
