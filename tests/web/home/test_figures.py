"""Every figure of the first page opens exactly the rows that it counts."""

from __future__ import annotations

import re
from datetime import timedelta
from html import unescape

import pytest

from orchard.records.models import Case, Task, Tree
from orchard.science import guide, windows
from orchard.services import inspections, tasks
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, TODAY, make_tree
from tests.services.tasks.test_tasks import make_task
from tests.web.home.test_home import inspect
from tests.web.home.test_home import on_the_day as _on_the_day

pytestmark = pytest.mark.django_db
on_the_day = _on_the_day
FIGURE = re.compile(r'<a [^>]*?href="([^"]*)"[^>]*>([^<]*)<b>\s*(\d+)\s*</b>')


def tasks_listed(page) -> int:
    """Count the tasks behind every line that the board shows, opened one by one."""
    return sum(band.tasks for band in page.context["bands"])


ROWS = {
    "/board/": tasks_listed,
    "/board/closed/": lambda page: len(page.context["shown"].rows),
    "/trees/": lambda page: len(page.context["listing"].rows),
    "/inspections/": lambda page: len(page.context["rows"]),
    "/second-looks/": lambda page: len(page.context["rows"]),
    "/second-looks/mine/": lambda page: len(page.context["looks"]),
    "/photos/": lambda page: len(page.context["stories"]),
    "/talks/": lambda page: len(page.context["sets"]),
}


def ripe_kind(orchard) -> str:
    month = windows.season_month(TODAY, float(orchard.latitude))
    cultivars = guide.load().cultivars.values()
    return next(one.name for one in cultivars if month in one.ripe_months)


@pytest.fixture
def people(vera, lee, eddy, olga, cora):
    return {person.name.lower(): person for person in (vera, lee, eddy, olga, cora)}


@pytest.fixture
def full(orchard, tree, people):
    """Something behind every figure, and something beside it that it must not count."""
    ripe = ripe_kind(orchard)
    first = make_tree(orchard, "B-1", kind=ripe)
    held = make_tree(orchard, "B-2", kind=ripe)
    make_tree(orchard, "B-3", kind=f"{ripe} of old")
    vera, lee, cora = people["vera"], people["lee"], people["cora"]
    later = {"due_on": TODAY + timedelta(days=40)}
    shut = {"opens_on": TODAY + timedelta(days=2), "due_on": TODAY + timedelta(days=9)}
    for number, person in enumerate(people.values()):
        for name, window in (("now", {}), ("later", later), ("shut", shut)):
            key = f"{name}_{number}"
            make_task(first, key, taken_by=person, **window)
            make_task(tree, key, **window)
    for key, block in (("whole", None), ("block", tree.spot.block)):
        Task.objects.filter(pk=make_task(tree, key).pk).update(tree=None, block=block)
    make_task(tree, "hush", kind="report", private=True, rank=0)
    done = make_task(held, "done")
    tasks.close(done, by=vera, now=NOW, today=TODAY, evidence="All of it")
    skipped = make_task(held, "skipped")
    tasks.close(skipped, by=vera, now=NOW, today=TODAY, how="skipped", reason="Rain")
    inspect(tree, vera, days_ago=20, condition=4)
    inspect(tree, vera, days_ago=1, condition=2)
    inspect(first, lee)
    Tree.objects.filter(pk=tree.pk).update(last_seen_on=TODAY - timedelta(days=1))
    unsure = [SeenSign("leafminer", {"pct": 5}, sure=False)]
    for person in (vera, lee):
        inspections.record(first, by=person, now=NOW, seen_at=NOW, findings=unsure)
    other = [SeenSign("aphids", {"pct": 5}, sure=False)]
    inspections.record(first, by=vera, now=NOW, seen_at=NOW, findings=other)
    inspections.answer_second_look(
        inspections.open_second_looks(orchard)[0], by=lee, now=NOW, answer="agreed"
    )
    suspect = [SeenSign("psyllid_nymph", {"count": 1})]
    inspections.record(held, by=cora, now=NOW, seen_at=NOW, findings=suspect)
    assert Case.objects.filter(tree=held).exists()


@pytest.mark.parametrize("name", ["vera", "lee", "eddy", "olga", "cora"])
def test_each_figure_opens_as_many_rows_as_it_says(client, people, full, name):
    client.force_login(people[name])
    html = client.get("/alderbrook/").content.decode()
    figures = [(unescape(url), int(n)) for url, _text, n in FIGURE.findall(html)]
    counted = {}
    for url, number in figures:
        path = url.partition("?")[0].removeprefix("/alderbrook")
        page = client.get(url)
        assert page.status_code == 200, url
        counted[url] = (number, ROWS[path](page))
    assert {url: said for url, (said, _there) in counted.items()} == {
        url: there for url, (_said, there) in counted.items()
    }
    # Were the pattern to find none, all of them would agree.
    assert len(counted) >= 2
    assert sum(said for said, _there in counted.values()) > 0


def test_what_is_mine_counts_later_tasks_and_the_board_unfolds_them(
    client, people, full
):
    client.force_login(people["vera"])
    html = client.get("/alderbrook/").content.decode()
    assert 'href="/alderbrook/board/?person=mine&amp;later=on"><b>3</b>' in html


def test_late_tasks_of_no_block_open_alone(client, people, full):
    client.force_login(people["cora"])
    html = client.get("/alderbrook/").content.decode()
    address = "/alderbrook/board/?late=on&block=-"
    assert address.replace("&", "&amp;") in html
    page = client.get(address)
    assert [band.tasks for band in page.context["bands"]] == [1]
    chosen = [one.label for one in page.context["blocks"] if one.chosen]
    assert chosen == ["no block"]


def test_no_figure_is_wrong_in_an_orchard_without_a_row(client, people, orchard):
    counted = 0
    for person in people.values():
        client.force_login(person)
        html = client.get("/alderbrook/").content.decode()
        for url, _text, number in FIGURE.findall(html):
            path = url.partition("?")[0].removeprefix("/alderbrook")
            # The first steps of a new orchard are numbered, not counted.
            if path in ROWS:
                assert ROWS[path](client.get(unescape(url))) == int(number) == 0, url
                counted += 1
    assert counted >= len(people)
