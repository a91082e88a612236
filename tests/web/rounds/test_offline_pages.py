"""What a phone keeps for a round: the list, and the cards of all its trees at once."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from orchard.science import guide
from orchard.services import rounds
from tests.conftest import NOW, TODAY, make_tree
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    from orchard.web import doorkeeper

    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: NOW)


@pytest.fixture
def trees(orchard):
    return [
        make_tree(orchard, "A-1"),
        make_tree(orchard, "A-2", setting="container"),
        make_tree(orchard, "A-3", own_roots=True),
        # Just planted: it is neither fed nor pruned yet, so its steps wait.
        make_tree(orchard, "A-4", planted_on=TODAY - timedelta(days=10)),
    ]


@pytest.fixture
def listed(as_vera, trees, lee, vera) -> dict:
    row = rounds.make_round(
        trees[0].orchard, by=lee, now=NOW, today=TODAY, name="Morning round",
        walk_on=TODAY, trees=trees, to=vera,
    )  # fmt: skip
    return as_vera.get(f"/alderbrook/rounds/{row.pk}/pages/").json()


def test_the_list_names_forms_first_and_where_the_cards_are(listed):
    assert listed["pages"][1].startswith(
        "/alderbrook/trees/A-1/inspections/new/?round="
    )
    assert listed["cards"].endswith("/pages/?part=cards")
    assert len(set(listed["pages"])) == len(listed["pages"])


def test_a_kept_card_is_the_card_that_the_form_would_ask_for(as_vera, trees, listed):
    kept = as_vera.get(listed["cards"]).json()
    for place, tree in enumerate(trees):
        signs = guide.load().signs.values()
        fitting = {sign.key for sign in signs if sign.fits(tree.kind.host)}
        assert set(kept["of"][tree.code]) == fitting
        # Every sign is asked for, each on another of the trees.
        for sign in sorted(fitting)[place :: len(trees)]:
            path = f"/alderbrook/trees/{tree.code}/inspections/signs/{sign}/"
            asked = as_vera.get(path).content.decode()
            assert kept["texts"][kept["of"][tree.code][sign]] == asked, path


def test_what_is_alike_is_carried_once(as_vera, listed):
    kept = as_vera.get(listed["cards"]).json()
    places = [place for signs in kept["of"].values() for place in signs.values()]
    assert len(kept["texts"]) == len(set(kept["texts"])) == len(set(places))
    assert len(places) > 2 * len(kept["texts"])
    assert len(kept["texts"]) > len(kept["of"]["A-1"])
    assert kept["of"]["A-1"] == kept["of"]["A-2"] != kept["of"]["A-4"]


def test_all_that_a_round_names_is_there(orchard, vera, lee, tree, client):
    trees = [tree, make_tree(orchard, "B-7")]
    row = rounds.make_round(
        orchard,
        by=lee,
        trees=trees,
        name="Morning",
        walk_on=TODAY,
        now=NOW,
        today=TODAY,
        to=vera,
    )
    client.force_login(vera)
    listed = client.get(f"/alderbrook/rounds/{row.pk}/pages/").json()
    assert len(listed["pages"]) > 2 * len(trees)
    for address in (
        *listed["pages"],
        *(listed[part] for part in ("cards", "work", "tags")),
    ):
        assert client.get(address).status_code == 200, address


def settled(page: str) -> str:
    """Return a page without what is another each time it is made."""
    return re.sub(r'(csrfmiddlewaretoken" value|data-rendered-at)="[^"]+"', "", page)


def test_a_round_brings_the_pages_of_its_work_and_of_closing_it(
    as_vera, client, trees, listed, lee
):
    shown = [make_task(trees[0]), make_task(trees[1], "tag_check")]
    make_task(trees[0], "sucker", kind="act", private=True)
    make_task(make_tree(trees[0].orchard, "B-9"))
    later = TODAY + timedelta(days=9)
    make_task(trees[2], opens_on=later, due_on=later)
    brought = as_vera.get(listed["work"]).json()
    pages = [f"/alderbrook/tasks/{task.pk}/" for task in shown]
    assert list(brought) == [
        address for page in pages for address in (page, f"{page}closure/")
    ]
    for address, text in brought.items():
        asked = as_vera.get(f"{address}?back=tree").content.decode()
        assert settled(text) == settled(asked)
    assert f'data-page="{pages[0]}closure/"' in brought[f"{pages[0]}closure/"]
    client.force_login(lee)
    assert len(client.get(listed["work"]).json()) == 6
