"""Lots in lists, yields by tree, cultivar and year, and the notes for receivers."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from orchard.records.models import Kind
from orchard.services import harvests, timeline
from orchard.services.harvests import LotFilters
from orchard.services.permissions import member_for
from tests.conftest import NOW, TODAY, make_tree
from tests.services.harvests.helpers import give, record

pytestmark = pytest.mark.django_db
LAST_YEAR = datetime(2025, 11, 3, 10, tzinfo=UTC)


@pytest.fixture
def trees(orchard):
    return make_tree(orchard, "A-1"), make_tree(orchard, "B-1", kind="Eureka lemon")


def lots(orchard, **filters):
    page = harvests.lots_of(orchard, LotFilters(**filters))
    return [line.codes for line in page.rows]


def test_lots_are_narrowed_by_year_cultivar_and_tree(orchard, trees, vera):
    navel, lemon = trees
    record(orchard, navel, by=vera, at=LAST_YEAR)
    record(orchard, navel, lemon, by=vera)
    assert lots(orchard) == ["A-1, B-1", "A-1"]
    assert lots(orchard, year=2025) == ["A-1"]
    assert lots(orchard, kind=lemon.kind_id) == ["A-1, B-1"]
    assert lots(orchard, tree="b-1") == ["A-1, B-1"]
    assert lots(orchard, year=2025, tree="B-1") == []


def test_long_lists_are_paged_by_key(orchard, tree, vera):
    for _turn in range(3):
        record(orchard, tree, by=vera)
    page = harvests.lots_of(orchard, LotFilters(), size=2)
    rest = harvests.lots_of(orchard, LotFilters(), after=page.next_key, size=2)
    assert [len(page.rows), len(rest.rows), rest.next_key] == [2, 1, ""]


def test_list_takes_as_many_queries_for_many_lots(
    orchard, tree, vera, django_assert_num_queries
):
    for _turn in range(3):
        give(record(orchard, tree, by=vera).harvest, vera, kg=1)
    with django_assert_num_queries(6):
        page = harvests.lots_of(orchard, LotFilters())
        assert [line.balance.left.kg for line in page.rows] == [3.0] * 3


def test_yields_by_year_tree_and_cultivar(orchard, trees, vera):
    navel, lemon = trees
    record(orchard, navel, by=vera, at=LAST_YEAR, kg=10)
    record(orchard, navel, lemon, by=vera, kg=8, count=40)
    record(orchard, lemon, by=vera, kg=1)
    record(orchard, lemon, by=vera, part="leaf", kg=0.2)
    withdrawn = record(orchard, lemon, by=vera, kg=90).harvest
    harvests.withdraw(withdrawn, by=vera, now=NOW, today=TODAY, reason="Twice")
    found = harvests.yields_of(orchard)
    assert [(row.year, row.kg, row.count) for row in found.by_year] == [
        (2025, 10.0, 0),
        (2026, 9.0, 40),
    ]
    assert [(row.name, row.kg) for row in found.by_tree.rows] == [
        ("B-1", 5.0),
        ("A-1", 4.0),
    ]
    assert [row.name for row in found.by_kind] == ["Eureka lemon", "Washington navel"]
    assert [row.kg for row in harvests.yields_of(orchard, year=2025).by_kind] == [10.0]
    assert [row.kg for row in harvests.yields_of(orchard, tree="B-1").by_year] == [5.0]


def test_year_of_a_pick_is_that_of_the_orchard(southbank, otto):
    # Eleven in the evening of New Year's Eve in London is next morning in Adelaide.
    tree = make_tree(southbank)
    eve = datetime(2025, 12, 31, 23, tzinfo=UTC)
    record(southbank, tree, by=otto, at=eve)
    assert [row.year for row in harvests.yields_of(southbank).by_year] == [2026]
    assert lots(southbank, year=2026) == ["A-1"]
    assert lots(southbank, year=2025) == []


@pytest.mark.parametrize(
    ("name", "group", "words"),
    [
        # U.S. Food and Drug Administration: grapefruit, Seville oranges, pomelos and
        # tangelos may change how medicines work.
        ("Ruby Red", "Red grapefruit", ["medicines"]),
        ("Chandler pummelo", "Pummelos", ["medicines"]),
        ("Minneola tangelo", "Minneola tangelos", ["medicines"]),
        ("Sour orange", "", ["medicines"]),
        ("Makrut lime", "Makrut limes", ["blisters"]),
        ("Tahiti (Bearss) lime", "Tahiti limes", ["blisters"]),
        ("Rue", "", ["blisters"]),
        ("Washington navel", "Navel oranges", []),
        ("Meyer lemon", "Meyer lemons", []),
    ],
)
def test_receivers_are_told_what_a_cultivar_can_do(name, group, words):
    notes = harvests.notes_for([Kind(name=name, group=group)])
    assert len(notes) == len(words)
    assert all(word in note for word, note in zip(words, notes, strict=True))


def test_picks_stand_in_the_life_of_a_tree(orchard, trees, vera):
    navel, lemon = trees
    lot = record(orchard, navel, lemon, by=vera, kg=8, count=41, note="Sweet").harvest
    gone = record(orchard, navel, by=vera, part="leaf", kg=0.1).harvest
    harvests.withdraw(gone, by=vera, now=NOW, today=TODAY, reason="Not picked")
    member = member_for(vera, "alderbrook")
    life = timeline.timeline_of(navel, member, today=TODAY)
    picks = [event for event in life.events if event.mark.rank is timeline.Rank.PICKED]
    assert [(event.title, event.note) for event in picks] == [
        ("Fruit picked: 4 kg, 21 pieces", f"{lot.lot}. Sweet")
    ]
    assert picks[0].target == ("harvest", lot.pk)
