"""Advice on many trees: as many queries as on few, and lists in pages."""

from __future__ import annotations

from collections import Counter
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from orchard.records.models import CarePlan, Task, Tree
from orchard.web.pages.frost import views as frost_views
from orchard.web.pages.outlook import wording
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
FEW, MANY = 30, 220


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
    ("setting", "value"), [("max_parallel_workers_per_gather", "0"), ("jit", "off")]
)
def test_postgresql_neither_starts_others_nor_compiles_for_a_page(db, setting, value):
    if connection.vendor != "postgresql":
        pytest.skip("only a server has others to start")
    with connection.cursor() as cursor:
        cursor.execute(f"SHOW {setting}")
        assert cursor.fetchone() == (value,)


def test_postgresql_keeps_the_statements_of_many_pages(db):
    """The usual hundred are fewer than pages ask: each would push out another."""
    if connection.vendor != "postgresql":
        pytest.skip("SQLite's are counted in the settings")
    sorts = range(1, 151)
    for _turn in range(2):
        for count in sorts:
            Tree.objects.filter(code="prepared", pk__in=range(count)).first()
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_prepared_statements WHERE statement LIKE %s",
            ['%."code" = %'],
        )
        assert cursor.fetchone() == (len(sorts),)


def test_the_outlook_counts_what_its_pages_list(db):
    orchard, person = many_trees.make_orchard(FEW, "few")
    # One pot is of unknown size, and one crown was never measured.
    potted = orchard.trees.filter(setting="container").earliest("pk")
    Tree.objects.filter(pk=potted.pk).update(container_litres=None)
    orchard.trees.filter(setting="ground").earliest("pk").crowns.all().delete()
    client = Client()
    client.force_login(person)

    def context_of(place):
        return client.get(f"/{orchard.slug}/outlook/{place}").context

    outlook, water, frost = map(context_of, ("", "water/", "frost/"))
    tonight, watering, *_others = outlook["matters"]
    assert watering == wording.watering(water["schedule"])
    assert water["schedule"].unclear > 0
    assert frost["frost"].reached > 0
    assert tonight == wording.tonight(frost["frost"])


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


def queries_of_night(slug):
    with CaptureQueriesContext(connection) as asked:
        call_command("nightly", orchard=slug, stdout=StringIO())
    words = Counter(query["sql"].split()[0] for query in asked.captured_queries)
    return words["SELECT"], words["INSERT"] + words["UPDATE"]


def test_the_nightly_work_takes_the_same_questions_for_many_trees_as_for_few(db):
    asked, written = [], []
    for trees in (FEW, MANY):
        orchard, person = many_trees.make_orchard(trees, f"trees-{trees}")
        nights = [queries_of_night(orchard.slug)]
        # A job that is off lets its tasks fall away, here without anybody's wish.
        jobs = Task.objects.in_orchard(orchard).open().care().values_list("key")
        CarePlan.objects.filter(orchard=orchard, job__in=jobs.distinct()).update(
            active=False, reason="Not this year", set_by=person
        )
        nights.append(queries_of_night(orchard.slug))
        assert not Task.objects.in_orchard(orchard).open().care().exists()
        asked.append([questions for questions, _changes in nights])
        written.append([changes for _questions, changes in nights])
    tasks = Task.objects.filter(orchard=orchard).count()
    opening, closing = zip(*asked, strict=True)
    assert opening[0] == opening[1]
    # What falls away is read in batches of some hundreds.
    assert closing[1] - closing[0] <= 2 * tasks / 500
    # SQLite takes no more than thirty or so rows of a task and its lines at a time.
    assert all(many - few <= tasks / 30 for few, many in zip(*written, strict=True))
