"""Where people start, and what the first page tells each of them."""

from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.records.models import Forecast, Inspection, Membership
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


def test_a_volunteer_sees_own_work_and_how_much_waits(client, vera, lee, tree):
    make_task(tree, "a", title="Mine to do.", taken_by=vera)
    make_task(tree, "b", title="Free to take.")
    make_task(tree, "c", title="With Lee.", taken_by=lee)
    make_task(tree, "x", kind="report", title="Hush.", private=True)
    answer = home(client, vera)
    page = answer.content.decode()
    assert "Mine to do." in page
    assert "With Lee." not in page
    assert "Hush." not in page
    assert 'href="/alderbrook/board/?person=nobody"><b>1</b>' in page
    assert answer.context["home"].figures["late"] == 3
    assert answer.context["home"].cases is None
    assert 'action="/alderbrook/trees/"' in page


def test_a_volunteer_without_work_sees_what_is_free_to_take(client, vera, tree):
    make_task(tree, "b", title="Free to take.")
    assert "Free to take." in home(client, vera).content.decode()


def test_an_observer_learns_the_answer_to_a_second_look(client, vera, lee, tree):
    unsure = [SeenSign("leafminer", {"pct": 5}, sure=False)]
    inspections.record(tree, by=vera, now=NOW, seen_at=NOW, findings=unsure)
    page = home(client, vera).content.decode()
    assert '<a href="/alderbrook/second-looks/mine/?waiting=on"><b>' in page
    look = inspections.open_second_looks(tree.orchard)[0]
    inspections.answer_second_look(
        look, by=lee, now=NOW, answer="agreed", note="Silver trails, no mistake."
    )
    for place in ("", "second-looks/mine/"):
        page = client.get(f"/alderbrook/{place}").content.decode()
        assert "Silver trails, no mistake." in page
        assert "it is what was said" in page.lower()
    # Nobody else's answers stand there.
    client.force_login(lee)
    assert "no mistake" not in client.get("/alderbrook/").content.decode()


def test_a_lead_opens_what_came_in_today(client, lee, vera, tree):
    inspect(tree, vera)
    inspect(tree, vera, days_ago=3)
    answer = home(client, lee)
    assert answer.context["home"].came_in == 1
    assert answer.context["home"].second_looks == 0
    assert 'href="/alderbrook/inspections/"><b>1</b>' in answer.content.decode()
    rows = client.get("/alderbrook/inspections/").context["rows"]
    assert [row.note for row, _findings in rows] == ["Looked 0 days ago"]


def test_a_figure_about_trees_opens_exactly_its_rows(client, cora, vera, orchard, tree):
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
    answer = home(client, cora)
    shown, page = answer.context["home"], answer.content.decode()
    assert (shown.falling, shown.unseen) == (1, 1)
    assert [(one.code, one.late) for one in shown.late_by_block] == [("A", 1)]

    def opened(query):
        assert query.replace("&", "&amp;") in page
        trees = client.get(f"/alderbrook/trees/?{query}").context["listing"].rows
        return [one.code for one in trees]

    assert opened("state=growing&condition=falling") == ["A-1"]
    assert opened("state=growing&unseen=60") == ["A-2"]


def test_the_office_sees_how_much_was_done(client, olga, vera, tree):
    from orchard.services import tasks

    inspect(tree, vera, days_ago=2)
    inspect(tree, vera, days_ago=3)
    inspect(tree, vera, days_ago=30)
    tree.last_seen_on = TODAY - timedelta(days=2)
    tree.save()
    tasks.close(make_task(tree), by=vera, now=NOW, today=TODAY)
    answer = home(client, olga)
    month, page = answer.context["home"].month, answer.content.decode()
    assert (month.inspections, month.trees_seen, month.closures) == (2, 1, 1)
    assert month.members == 2
    done = f"/alderbrook/board/closed/?how=done&since={TODAY:%Y-%m}-01"
    assert done.replace("&", "&amp;") in page
    assert client.get(done).context["shown"].count == 1
    before = f"{done}&until={TODAY.replace(day=1)}"
    assert client.get(before).context["shown"].count == (TODAY.day == 1)
    assert "My tasks" not in page
    assert 'href="/alderbrook/inspections/?period=month"><b>2</b>' in page
    rows = client.get("/alderbrook/inspections/?period=month").context["rows"]
    assert len(rows) == 2
    listing = client.get("/alderbrook/trees/?state=all&unseen=month").context["listing"]
    assert [one.code for one in listing.rows] == ["A-1"]


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


def test_a_new_orchard_says_what_to_do_next(client, cora, vera, orchard):
    shown = home(client, cora).context["home"]
    assert [step.name for step in shown.steps if step.done] == ["people"]
    assert (
        "Import trees, or add them one by one"
        in client.get("/alderbrook/").content.decode()
    )
    assert "The coordinator is entering them." in home(client, vera).content.decode()
    tree = make_tree(orchard, "A-1")
    shown = home(client, cora).context["home"]
    assert [step.name for step in shown.steps if step.done] == [
        "blocks",
        "trees",
        "people",
    ]
    inspect(tree, vera)
    assert home(client, cora).context["home"].steps is None


def test_a_suspicion_is_named_to_who_leads_and_listed_to_nobody_else(
    client, lee, eddy, vera, tree
):
    findings = [
        SeenSign("psyllid_nymph", {"count": 1}),
        SeenSign("leafminer", {"pct": 5}, sure=False),
    ]
    inspections.record(tree, by=vera, now=NOW, seen_at=NOW, findings=findings)
    private, seen = (
        guide.load().name_of(key) for key in ("psyllid_nymph", "leafminer")
    )
    assert f"{private} suspected" in home(client, lee).content.decode()
    listed = "/alderbrook/inspections/"
    assert private in client.get(listed).content.decode()
    for other in (vera, eddy):
        assert f"{private} suspected" not in home(client, other).content.decode()
    # Eddy recorded it not: he reads of the other sign alone.
    assert seen in client.get(listed).content.decode()
    assert private not in client.get(listed).content.decode()


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


def hot_days(orchard, by, *highs):
    for ahead, high in enumerate(highs):
        Forecast.objects.create(
            orchard=orchard,
            for_on=TODAY + timedelta(days=ahead),
            made_at=NOW,
            source="the weather service",
            tmin=18.0,
            tmax=high,
            by=by,
            received_at=NOW,
        )


def test_heat_ahead_is_told_with_its_day_its_caution_and_its_tasks(
    client, vera, lee, olga, cora, orchard, tree
):
    hot_days(orchard, cora, 30.0, 36.0, 39.4)
    shown = home(client, vera).context["home"]
    assert shown.heat.first_on == TODAY + timedelta(days=1)
    assert (shown.heat.highest_c, shown.heat.line) == (39.4, None)
    make_task(tree, "heat_prep")
    make_task(make_tree(orchard, "B-1"), "heat_prep")
    for person in (vera, lee, cora):
        page = home(client, person).content.decode()
        assert "Wed 13 May" in page
        assert "39\N{NO-BREAK SPACE}°C" in page
        assert "stop at the local heat limit" in page
        assert "2 trees to prepare" in page
    address = "/alderbrook/board/?open=due-care-heat_prep#group-due-care-heat_prep"
    assert f'href="{address}"' in page
    assert len(client.get(address).context["bands"][0].lines[0].group.rows) == 2
    # It is work: who only looks on is not asked to do it.
    assert home(client, olga).context["home"].heat is None


def test_a_warm_day_is_no_heat(client, vera, cora, orchard):
    hot_days(orchard, cora, 34.9, 34.9)
    assert home(client, vera).context["home"].heat is None


def test_heat_is_told_in_the_orchards_own_units(client, vera, cora, orchard):
    orchard.units = "us"
    orchard.save()
    hot_days(orchard, cora, 40.0)
    page = home(client, vera).content.decode()
    assert "104\N{NO-BREAK SPACE}°F" in page


def test_who_leads_reads_the_hours_of_the_week_as_the_board_has_them(
    client, vera, lee, cora, orchard, tree
):
    for code in ("B-1", "B-2", "B-3"):
        make_task(make_tree(orchard, code), "skirt", due_on=TODAY)
    for person in (lee, cora):
        answer = home(client, person)
        minutes = answer.context["home"].minutes_this_week
        said = answer.content.decode()
        board = client.get("/alderbrook/board/").context
        assert minutes == board["board"].minutes_this_week > 0
        assert f"<b>{board['work_this_week']}</b>" in said
        assert "of work this week, crew hours: not set" in said
    orchard.crew_hours = 7
    orchard.save()
    said = home(client, cora).content.decode()
    assert "of work this week, crew: 7 h" in said
    assert home(client, vera).context["home"].minutes_this_week is None
