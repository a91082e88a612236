from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.records.models import Happening, StageNote
from orchard.science import guide
from orchard.services import facts
from tests.conftest import NOW, TODAY, make_tree

pytestmark = pytest.mark.django_db


def test_every_fact_gathered_is_one_the_guide_knows(tree):
    gathered = facts.gather(tree, on=TODAY).base
    assert gathered
    assert gathered.keys() <= guide.load().facts.keys()


@pytest.mark.parametrize(
    ("born_on", "planted_on", "age", "planted_d"),
    [
        (None, None, None, None),
        (None, date(2024, 5, 14), 2.0, 730),
        (date(2022, 5, 14), date(2024, 5, 14), 4.0, 730),
        (date(2022, 5, 14), None, 4.0, None),
        (None, date(2026, 5, 14), 0.0, 0),
        (None, date(2026, 5, 15), None, None),
    ],
)
def test_the_age_and_the_time_since_planting_are_those_of_the_day(
    tree, born_on, planted_on, age, planted_d
):
    """A look from before the planting knows neither, and care and signs agree."""
    tree.born_on, tree.planted_on = born_on, planted_on
    day = date(2026, 5, 14)
    at_a_look = facts.gather(tree, on=day).base
    for_care = facts.care_facts_of([tree], tree.orchard, day, bared=(), large=()).facts(
        tree
    )
    assert at_a_look.get("planted_d") == for_care["planted_d"] == planted_d
    for years in (at_a_look.get("age_y"), for_care["age_y"]):
        assert years == (None if age is None else pytest.approx(age, abs=0.005))


def test_the_facts_of_a_tree_are_its_own_whichever_trees_stand_beside_it(orchard):
    usual = {"setting": "ground", "planted_on": date(2016, 3, 20)}
    others = [
        {"own_roots": True},
        {"rootstock": ""},
        {"kind": "Eureka"},
        {"setting": "container"},
        {"irrigated": True},
        {"staked": True},
        {"on_display": False},
        {"born_on": date(2024, 1, 1), "planted_on": date(2025, 3, 1)},
        {"planted_on": date(2026, 3, 1)},
        {"planted_on": date(2025, 1, 1), "planted_precision": "year"},
    ]
    rows = [
        make_tree(orchard, f"A-{number}", **{**usual, **more})
        for number, more in enumerate([{}, *others], start=1)
    ]
    bared, large = {rows[0].pk}, {rows[1].pk}
    day = date(2026, 5, 14)

    def facts_of(trees):
        return facts.care_facts_of(trees, orchard, day, bared=bared, large=large)

    together = facts_of(rows)
    for tree in rows:
        assert together.facts(tree) == facts_of([tree]).facts(tree)
    assert len(together.sorts) == len(rows)


def test_trees_that_share_a_site_have_their_own_nights_and_stages(
    tree, orchard, vera, django_assert_num_queries
):
    beside = make_tree(orchard, "A-2", kind="Eureka lemon")
    other = {"orchard": orchard, "by": vera, "received_at": NOW}
    for row, back in ((None, 30), (tree, 9)):
        day = TODAY - timedelta(days=back)
        Happening.objects.create(tree=row, what="frost_night", happened_on=day, **other)
    day = TODAY - timedelta(days=2)
    StageNote.objects.create(tree=beside, bbch=65, seen_on=day, **other)

    site = facts.read_site(orchard, TODAY)
    with django_assert_num_queries(2):
        found = [facts.gather(one, on=TODAY, site=site) for one in (tree, beside)]

    assert [ground.base["frost_days"] for ground in found] == [9, 30]
    assert [ground.base.get("bbch") for ground in found] == [None, 65]
    assert found == [facts.gather(one, on=TODAY) for one in (tree, beside)]
