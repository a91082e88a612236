"""Pages of rounds: plain forms that work without a script, watched live by the lead."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from orchard.records.models import Inspection, Round, Treatment, Tree, User
from orchard.services import inspections, rounds, treatments
from orchard.services.inspections import Arrival, SeenSign
from tests.conftest import NOW, TODAY, make_tree
from tests.services.tasks.test_tasks import make_task
from tests.services.treatments.helpers import add, use

pytestmark = pytest.mark.django_db
ROUNDS = "/alderbrook/rounds/"


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    from orchard.web import doorkeeper

    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: NOW)


@pytest.fixture
def trees(orchard):
    return [make_tree(orchard, code) for code in ("A-1", "A-2", "B-1")]


@pytest.fixture
def row(trees, lee, vera) -> Round:
    return rounds.make_round(
        trees[0].orchard, by=lee, now=NOW, today=TODAY, name="Morning round",
        walk_on=TODAY, trees=trees, to=vera,
    )  # fmt: skip


@pytest.fixture
def as_lee(client, lee):
    client.force_login(lee)
    return client


def text_of(answer) -> str:
    return re.sub(r"\s+", " ", answer.content.decode())


def make(client, **said):
    values = {
        "name": "Morning", "walk_on": TODAY.isoformat(), "to": "nobody",
        "step": "make", **said,
    }  # fmt: skip
    return client.post(f"{ROUNDS}new/", values)


def walk_of(row) -> list[str]:
    return list(row.stops.order_by("position").values_list("tree__code", flat=True))


# Made


def test_a_round_is_made_by_block_and_given_to_somebody(as_lee, trees, vera):
    page = as_lee.get(f"{ROUNDS}new/?block=A")
    assert 'value="Round of 12 May"' in text_of(page)
    answer = make(as_lee, blocks=["A"], to=vera.pk)
    row = Round.objects.get()
    assert answer.url == f"{ROUNDS}{row.pk}/"
    assert (row.taken_by, walk_of(row)) == (vera, ["A-1", "A-2"])


def test_trees_are_shown_to_be_ticked_with_those_of_the_choice_ticked(as_lee, trees):
    make_task(trees[0])
    page = text_of(make(as_lee, due="on", step="trees"))
    ticks = re.findall(r'name="tree" value="([\w-]+)"( checked)?', page)
    assert ticks == [("A-1", " checked"), ("A-2", ""), ("B-1", "")]
    assert not Round.objects.exists()
    make(as_lee, due="on", listed="1", tree=["B-1", "A-2"], codes="A-1")
    assert walk_of(Round.objects.get()) == ["A-1", "A-2", "B-1"]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({}, "No tree is chosen."),
        ({"codes": "A-1, Z-9"}, "has the code Z-9"),
        ({"blocks": ["A"], "walk_on": "2026-05-11"}, "That day has passed."),
        ({"blocks": ["A"], "name": ""}, "Fix the marked fields"),
        ({"blocks": ["A"], "unseen_days": "0"}, "Fix the marked fields"),
        ({"blocks": ["Q"]}, "Fix the marked fields"),
    ],
)
def test_what_is_refused_keeps_what_was_typed(as_lee, trees, said, told):
    answer = make(as_lee, **{"name": "Before noon", **said})
    assert answer.status_code == 422
    page = text_of(answer)
    assert told in page
    if "name" not in said:
        assert 'value="Before noon"' in page
    assert not Round.objects.exists()


def test_ticks_stay_when_something_else_is_to_be_mended(as_lee, trees):
    answer = make(as_lee, listed="1", tree=["B-1"], codes="Z-9", unseen_days="-3")
    assert answer.status_code == 422
    ticks = re.findall(r'name="tree" value="([\w-]+)"( checked)?', text_of(answer))
    assert ticks == [("A-1", ""), ("A-2", ""), ("B-1", " checked")]
    answer = make(as_lee, listed="1", tree=["B-1"], codes="Z-9")
    assert "has the code Z-9" in text_of(answer)
    assert 'value="B-1" checked' in text_of(answer)


def test_the_order_is_changed_by_number(as_lee, row):
    page = text_of(as_lee.get(f"{ROUNDS}{row.pk}/order/"))
    names = re.findall(r'name="(place-\d+)"', page)
    assert len(names) == 3
    said = dict(zip(names, ("3", "", "1"), strict=True))
    assert as_lee.post(f"{ROUNDS}{row.pk}/order/", said).status_code == 302
    assert walk_of(row) == ["B-1", "A-1"]
    answer = as_lee.post(f"{ROUNDS}{row.pk}/order/", {names[0]: "first", "codes": "x"})
    assert answer.status_code == 422
    assert "“first” is no place in a walk." in text_of(answer)
    answer = as_lee.post(f"{ROUNDS}{row.pk}/order/", {"codes": "Z-9 A-2"})
    assert 'value="Z-9 A-2"' in text_of(answer)
    assert walk_of(row) == ["B-1", "A-1"]


# Walked


def test_the_walker_sees_the_next_tree_and_what_is_due_there(as_vera, row, trees):
    make_task(trees[0], caution="Thorns.", because="x")
    row.orchard.emergency_note = "Ring the bell at the shed."
    row.orchard.save()
    page = text_of(as_vera.get(f"{ROUNDS}{row.pk}/"))
    for said in (
        "0 of 3 trees seen", "Next tree", "Sucker round", "2 days late", "Thorns.",
        "Ring the bell at the shed.", "not yet", "The product label, local rules",
        f'data-round-pages="{ROUNDS}{row.pk}/pages/"',
        f"/alderbrook/trees/A-1/inspections/new/?round={row.pk}",
    ):  # fmt: skip
        assert said in page
    assert page.count("<h1") == 1
    assert page.count("button primary") == 1
    assert "Last heard" not in page


def test_all_well_goes_on_to_the_next_tree_of_the_round(as_vera, row, trees):
    answer = as_vera.post("/alderbrook/trees/A-1/all-well/", {"round": row.pk})
    assert answer.url == f"{ROUNDS}{row.pk}/"
    look = Inspection.objects.get()
    assert (look.round, look.tree) == (row, trees[0])
    page = text_of(as_vera.get(answer.url))
    assert "1 of 3 trees seen" in page
    assert 'data-tree="A-2"' in page


def test_the_form_carries_its_round_all_the_way(as_vera, row, trees):
    address = f"/alderbrook/trees/A-2/inspections/new/?round={row.pk}"
    hidden = f'<input type="hidden" name="round" value="{row.pk}">'
    assert hidden in text_of(as_vera.get(address))
    said = {"note": "Bees about", "round": row.pk}
    assert hidden in text_of(as_vera.post(address, {**said, "step": "read"}))
    answer = as_vera.post(address, {**said, "step": "save"})
    assert Inspection.objects.get().round == row
    assert f'href="{ROUNDS}{row.pk}/"' in text_of(as_vera.get(answer.url))
    tree = text_of(as_vera.get(f"/alderbrook/trees/A-2/?round={row.pk}"))
    assert hidden in tree
    assert f"inspections/new/?round={row.pk}" in tree


@pytest.mark.parametrize("number", ["", "x", "999999", "-1", "9" * 40, "1.5"])
def test_a_round_that_is_none_costs_no_record(as_vera, trees, number):
    said = {"note": "Bees about", "round": number, "step": "save"}
    as_vera.post("/alderbrook/trees/A-1/inspections/new/", said)
    as_vera.post("/alderbrook/trees/A-2/all-well/", {"round": number})
    assert [look.round for look in Inspection.objects.all()] == [None, None]
    assert as_vera.get(f"/alderbrook/trees/A-1/?round={number}").status_code == 200


def test_a_round_is_taken_given_back_and_closed_with_the_way_back(
    as_vera, client, row, trees, lee
):
    rounds.give_back_round(row, by=row.taken_by, now=NOW)
    page = text_of(as_vera.get(f"{ROUNDS}{row.pk}/"))
    assert "Take round" in page
    assert page.count("button primary") == 1
    as_vera.post(f"{ROUNDS}{row.pk}/taking/")
    as_vera.post(f"{ROUNDS}{row.pk}/taking/?give=back")
    as_vera.post(f"{ROUNDS}{row.pk}/taking/")
    answer = as_vera.post(f"{ROUNDS}{row.pk}/closure/", follow=True)
    page = text_of(answer)
    assert "The round is closed; 3 trees were not seen." in page
    assert f"{ROUNDS}{row.pk}/closure/?undo=1" in page
    refused = as_vera.post(f"{ROUNDS}{row.pk}/closure/")
    assert refused.status_code == 422
    assert "This round is closed already." in text_of(refused)
    as_vera.post(f"{ROUNDS}{row.pk}/closure/?undo=1")
    row.refresh_from_db()
    assert row.closed_at is None


def test_the_second_to_take_a_round_is_told_by_whom(client, row, eddy):
    client.force_login(eddy)
    answer = client.post(f"{ROUNDS}{row.pk}/taking/")
    assert answer.status_code == 422
    assert "Vera has this round already." in text_of(answer)
    assert "Take round" not in text_of(answer)


def test_a_round_with_every_tree_seen_says_so(as_vera, row, trees):
    for tree in trees[:2]:
        as_vera.post(f"/alderbrook/trees/{tree.code}/all-well/", {"round": row.pk})
    Tree.objects.filter(code="B-1").update(state="dead")
    page = text_of(as_vera.get(f"{ROUNDS}{row.pk}/"))
    assert "Every tree of this round is seen." in page
    assert "It can't be inspected any more." in page
    assert page.count("button primary") == 1


def test_the_list_of_pages_holds_what_a_walk_needs(as_vera, row, trees):
    answer = as_vera.get(f"{ROUNDS}{row.pk}/pages/")
    assert answer["Cache-Control"] == "no-store"
    told = answer.json()
    assert told["fetched_at"] == NOW.isoformat()
    tail = f"?round={row.pk}"
    for address in (
        f"{ROUNDS}{row.pk}/", "/outbox/", "/alderbrook/guide/",
        f"/alderbrook/trees/A-1/inspections/new/{tail}",
        f"/alderbrook/trees/B-1/{tail}",
    ):  # fmt: skip
        assert address in told["pages"]
    assert len(told["pages"]) == len(set(told["pages"]))
    assert any(page.startswith("/alderbrook/guide/") for page in told["pages"])
    assert told["pictures"]
    for address in told["pages"]:
        assert as_vera.get(address).status_code == 200, address


# Watched


def test_the_lead_hands_it_over_and_watches_it(as_lee, row, trees, vera, lee):
    inspections.record(
        trees[0], by=vera, now=NOW - timedelta(minutes=8), arrival=Arrival(round=row),
        seen_at=NOW - timedelta(minutes=18),
        findings=[SeenSign("sucker", {"graft": "below"})],
    )  # fmt: skip
    page = text_of(as_lee.get(f"{ROUNDS}{row.pk}/"))
    # The clock of the orchard: Lisbon is an hour ahead of UTC in May.
    for said in (
        "Vera has these trees.", "Last heard from Vera", "1 sign noted.",
        "seen 09:42", "received 09:52", "Still out", 'hx-trigger="click, every 15s"',
    ):  # fmt: skip
        assert said in page
    assert re.search(r"Still out</h3>.*A-2.*B-1.*Received", page)
    as_lee.post(f"{ROUNDS}{row.pk}/handing/", {"to": lee.pk})
    row.refresh_from_db()
    assert row.taken_by == lee
    nobody = User.objects.latest("pk").pk + 1
    assert as_lee.post(f"{ROUNDS}{row.pk}/handing/", {"to": nobody}).status_code == 422


def test_the_live_view_is_a_part_for_the_page_and_a_page_by_itself(as_lee, row):
    address = f"{ROUNDS}{row.pk}/live/"
    part = as_lee.get(address, headers={"HX-Request": "true"})
    assert text_of(part).startswith("<section")
    assert "HX-Request" in part["Vary"]
    page = text_of(as_lee.get(address))
    assert page.count("<h1") == 1
    assert 'href="/alderbrook/rounds/' in page
    rounds.close_round(row, by=row.taken_by, now=NOW)
    assert "every 15s" not in text_of(as_lee.get(address))


def test_first_pages_lead_to_the_round(client, row, vera, lee, olga):
    told = {}
    for person in (vera, lee, olga):
        client.force_login(person)
        told[person.name] = text_of(client.get("/alderbrook/"))
    assert "My round" in told["Vera"]
    said = " ".join(re.sub(r"<[^>]*>", " ", told["Lee"]).split())
    assert "0 of 3 trees seen on Morning round, Vera" in said.replace(" ,", ",")
    assert all(f"{ROUNDS}{row.pk}/" in told[name] for name in ("Vera", "Lee"))
    assert "Morning round" not in told["Olga"]


def test_the_list_says_what_is_free_and_how_far_each_is(as_vera, row, lee):
    page = text_of(as_vera.get(ROUNDS))
    assert "0 of 3 trees seen" in page
    assert "A-1, A-2, B-1" in page
    assert "Hand out a round" not in page
    rounds.hand_over_round(row, to=None, by=lee, now=NOW)
    assert "free to take" in text_of(as_vera.get(ROUNDS))
    rounds.close_round(row, by=lee, now=NOW)
    page = text_of(as_vera.get(ROUNDS))
    assert "No round is open." in page
    assert "Closed in the last two weeks" in page


def test_names_that_look_like_markup_stay_text(as_lee, row):
    Round.objects.update(name="<b>x</b>")
    for address in (ROUNDS, f"{ROUNDS}{row.pk}/", f"{ROUNDS}{row.pk}/live/"):
        page = as_lee.get(address).content.decode()
        assert "<b>x</b>" not in page
        assert "&lt;b&gt;x&lt;/b&gt;" in page


def test_a_photo_without_a_word_is_no_tree_seen(as_vera, row, trees, vera):
    photo = Arrival(round=row, photos_follow=True)
    look = inspections.record(
        trees[0], by=vera, now=NOW, seen_at=NOW, arrival=photo
    ).inspection
    page = text_of(as_vera.get(f"{ROUNDS}{row.pk}/"))
    assert "0 of 3 trees seen." in page
    assert 'data-out="A-1"' in page
    assert '<span class="word"> photo only</span>' in page
    saved = text_of(as_vera.get(f"/alderbrook/inspections/{look.pk}/"))
    assert "doesn't count as a check. The photo hasn't arrived yet." in saved.replace(
        "&#x27;", "'"
    )
    assert "Next tree: A-1" in saved
    assert "Photo only." in text_of(as_vera.get("/alderbrook/inspections/"))


def test_a_round_says_which_of_its_trees_are_closed_until_when_and_as_of_when(
    as_lee, lee, trees, row, orchard
):
    soap = add(orchard, lee, NOW, fruit_days=1)
    for tree, hours in ((trees[0], 1), (trees[1], 1), (trees[2], 5)):
        ended = use(soap, tree, at=NOW - timedelta(hours=hours))
        treatments.record(orchard, ended, by=lee, now=NOW, today=TODAY)
    page = text_of(as_lee.get(f"{ROUNDS}{row.pk}/"))
    holds = page[page.index('id="holds"') : page.index('id="live"')]
    # It ended at 09:00 in Lisbon, and its label says four hours.
    assert re.search(
        r"<b>A-1, A-2</b> <span>No entry before Tue 12 May, 13:00: it was treated.",
        holds,
    )
    # What was over before this moment closes nothing, though it is of today.
    assert "<b>B-1</b> <span>No picking" in holds
    closed, unpicked = holds.count("is-closed"), holds.count("is-unpicked")
    assert (closed, unpicked) == (1 + 2, 1 + 1)
    assert "As of Tue 12 May" in holds
    paper = text_of(as_lee.get(f"/alderbrook/treatments/{_last()}/posting/"))
    # Only the tree of this use, among what else stands in its block.
    assert paper.count("sketch-place is-closed") == 1 + 1


def _last() -> int:
    return Treatment.objects.latest("pk").pk
