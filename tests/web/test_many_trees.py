"""Advice on many trees: as many queries as on few, and lists in pages."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from orchard.web.pages.frost import views as frost_views
from orchard.web.pages.water import views as water_views
from tests.bench import many_trees

PLACES = (
    "",
    "board/",
    "outlook/",
    "outlook/water/",
    "outlook/frost/",
    "outlook/heat/",
    "outlook/ripeness/",
    "care/",
)
FEW, MANY = 30, 300


@pytest.fixture(autouse=True)
def that_winter(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: many_trees.NOW)


def page_of(slug, place, person):
    client = Client()
    client.force_login(person)
    with CaptureQueriesContext(connection) as asked:
        answer = client.get(f"/{slug}/{place}")
    assert answer.status_code == 200
    return answer.content.decode(), len(asked)


def test_pages_of_advice_take_the_same_queries_for_many_trees_as_for_few(db):
    counted = {}
    for trees in (FEW, MANY):
        orchard, person = many_trees.make_orchard(trees, f"trees-{trees}")
        for place in PLACES:
            _text, queries = page_of(orchard.slug, place, person)
            counted.setdefault(place, []).append(queries)
    assert {place for place, (few, many) in counted.items() if few != many} == set()


@pytest.mark.parametrize(
    ("place", "views"),
    [("outlook/frost/", frost_views), ("outlook/water/", water_views)],
)
def test_a_long_list_of_trees_goes_on_page_by_page(db, monkeypatch, place, views):
    orchard, person = many_trees.make_orchard(FEW, "few")
    codes = {f"T-{number}" for number in range(FEW)}

    def named(text):
        return {code for code in codes if f">{code}<" in text or f">{code} " in text}

    whole, _queries = page_of(orchard.slug, place, person)
    assert named(whole) == codes
    assert 'class="pager"' not in whole

    monkeypatch.setattr(views, "TREES_SHOWN", 12)
    client = Client()
    client.force_login(person)
    seen, address = [], f"/{orchard.slug}/{place}"
    while address:
        answer = client.get(address)
        seen.append(named(answer.content.decode()))
        address = answer.context["later_url"]
    assert [len(trees) for trees in seen if trees] == [12, 12, 6]
    assert set.union(*seen) == codes
