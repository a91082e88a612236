"""Where people start, and what the first page tells each of them."""

from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.records.models import Inspection, Membership
from orchard.science import guide
from orchard.services import inspections
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, TODAY, make_orchard, make_tree
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    from orchard.web import doorkeeper

    monkeypatch.setattr(doorkeeper.timezone, "now", lambda: NOW)


def inspect(tree, by, *, days_ago=0, condition=None):
    at = NOW - timedelta(days=days_ago)
    return Inspection.objects.create(
        orchard=tree.orchard,
        tree=tree,
        by=by,
        seen_on=at.date(),
        seen_at=at,
        made_at=at,
        received_at=at,
        condition=condition,
        note=f"Looked {days_ago} days ago",
    )


def home(client, person):
    client.force_login(person)
    answer = client.get("/alderbrook/")
    assert answer.status_code == 200
    return answer


def test_the_door_leads_to_the_one_orchard_or_lists_several(client, vera, orchard):
    assert client.get("/").url == "/sign-in/?next=/"
    client.force_login(vera)
    assert client.get("/").url == "/alderbrook/"
    other = make_orchard("southbank", south=True)
    Membership.objects.create(user=vera, orchard=other, role="lead", joined_at=NOW)
    page = client.get("/").content.decode()
    assert "/alderbrook/" in page
    assert "/southbank/" in page


def test_whoever_belongs_to_no_orchard_is_told_how_to_get_in(client, vera):
    Membership.objects.update(left_at=NOW)
    client.force_login(vera)
    assert "You belong to no orchard yet." in client.get("/").content.decode()


def test_a_volunteer_sees_own_work_free_work_and_how_much_is_late(
    client, vera, lee, tree
):
    make_task(tree, "a", title="Mine to do.", taken_by=vera)
    make_task(tree, "b", title="Free to take.")
    make_task(tree, "c", title="With Lee.", taken_by=lee)
    make_task(tree, "x", kind="report", title="Hush.", private=True)
    answer = home(client, vera)
    page = answer.content.decode()
    assert "Mine to do." in page
    assert "Free to take." in page
    assert "With Lee." not in page
    assert "Hush." not in page
    assert answer.context["home"].late == 3
    assert answer.context["home"].cases is None
    assert 'action="/alderbrook/trees/"' in page


def test_a_lead_sees_what_came_in_today(client, lee, vera, tree):
    inspect(tree, vera)
    inspect(tree, vera, days_ago=3)
    answer = home(client, lee)
    assert answer.context["home"].came_in_count == 1
    assert "Looked 0 days ago" in answer.content.decode()
    assert "Looked 3 days ago" not in answer.content.decode()
    assert answer.context["home"].looks == ()


def test_a_coordinator_sees_unseen_and_declining_trees_and_late_blocks(
    client, cora, vera, orchard, tree
):
    inspect(tree, vera, days_ago=20, condition=4)
    inspect(tree, vera, days_ago=1, condition=2)
    tree.last_seen_on = TODAY - timedelta(days=1)
    tree.save()
    better = make_tree(orchard, "A-2", last_seen_on=TODAY - timedelta(days=61))
    inspect(better, vera, days_ago=80, condition=2)
    inspect(better, vera, days_ago=61, condition=3)
    make_tree(orchard, "A-3", last_seen_on=TODAY - timedelta(days=60))
    make_tree(orchard, "A-4", state="dead")
    make_task(tree)
    shown = home(client, cora).context["home"]
    assert [one.code for one in shown.declining] == ["A-1"]
    assert [one.code for one in shown.unseen] == ["A-2"]
    assert [(one.code, one.late) for one in shown.tallies] == [("A", 1)]
    assert shown.inspections_this_month == 1
    assert shown.members == 2


def test_the_office_sees_how_much_was_done(client, olga, vera, tree):
    from orchard.services import tasks

    inspect(tree, vera, days_ago=2)
    inspect(tree, vera, days_ago=3)
    inspect(tree, vera, days_ago=30)
    tasks.close(make_task(tree), by=vera, now=NOW, today=TODAY)
    answer = home(client, olga)
    shown = answer.context["home"]
    assert (shown.inspections_this_month, shown.trees_seen_this_month) == (2, 1)
    assert shown.closures_this_month == 1
    assert "My tasks" not in answer.content.decode()


def test_an_educator_sees_what_is_usually_ripe(client, eddy, orchard):
    # The guide has no source for a month here: what it says is what is shown.
    from orchard.science import guide, windows

    month = windows.season_month(TODAY, float(orchard.latitude))
    ripe = next(
        one.name for one in guide.load().cultivars.values() if month in one.ripe_months
    )
    unripe = next(
        one.name
        for one in guide.load().cultivars.values()
        if one.ripe_months and month not in one.ripe_months
    )
    make_tree(orchard, "A-1", kind=ripe)
    make_tree(orchard, "A-2", kind=unripe)
    shown = home(client, eddy).context["home"]
    assert [(one.name, one.trees) for one in shown.ripening] == [(ripe, 1)]


def test_an_orchard_without_trees_says_what_to_do(client, cora):
    assert "No trees yet." in home(client, cora).content.decode()


def test_who_leads_reads_what_is_suspected_found_and_asked(client, lee, vera, tree):
    findings = [
        SeenSign("psyllid_nymph", {"count": 1}),
        SeenSign("leafminer", {"pct": 5}, sure=False),
    ]
    inspections.record(tree, by=vera, now=NOW, seen_at=NOW, findings=findings)
    names = [guide.load().name_of(key) for key in ("psyllid_nymph", "leafminer")]
    page = home(client, lee).content.decode()
    # The suspicion: in its case, its report and look, and among what came in.
    assert page.count(names[0]) >= 3
    # The finding: among what came in, and waiting for a second look.
    assert page.count(names[1]) >= 2
    assert names[0] not in home(client, vera).content.decode()


def test_outsiders_find_no_orchard(client, otto, orchard):
    client.force_login(otto)
    assert client.get("/alderbrook/").status_code == 404


def test_a_code_in_the_search_leads_to_its_tree_and_other_words_to_the_list(
    client, vera, tree
):
    client.force_login(vera)
    found = client.get("/alderbrook/trees/?go=1&q=a01")
    assert found.url == "/alderbrook/trees/A-1/"
    page = client.get("/alderbrook/trees/?go=1&q=navel").content.decode()
    assert "1 tree" in page
