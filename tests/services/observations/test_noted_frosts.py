"""A frost noted by hand: in the weather lane, in the facts, in what follows."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from orchard.records.models import CarePlan, Membership, Reading, Task
from orchard.services import care_plan, observations, timeline
from orchard.services.facts.tree import gather
from orchard.services.timeline import Lane
from tests.conftest import make_orchard, make_tree

pytestmark = pytest.mark.django_db

LONG_AGO = datetime(2015, 1, 1, tzinfo=UTC)
# In the middle of the guide's season in which navels are ripe and hang.
FROST = date(2026, 1, 10)
FROSTS = ("frost_night", "hard_frost", "severe_frost")


def moment(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 9, tzinfo=UTC)


@pytest.fixture
def orchard(db):
    return make_orchard(founded_at=LONG_AGO)


@pytest.fixture
def trees(orchard):
    for job in ("frost_after", "frost_fruit_cut"):
        CarePlan.objects.create(
            orchard=orchard, job=job, active=True, set_at=LONG_AGO, set_by=None
        )
    codes = ("A-1", "A-2")
    return [make_tree(orchard, code, entered_at=LONG_AGO) for code in codes]


def note(orchard, by, what, on=FROST, tree=None):
    return observations.note_event(
        orchard, what=what, happened_on=on, by=by, now=moment(on), tree=tree
    )


def looks(orchard, job="frost_after", day=FROST + timedelta(days=3)):
    care_plan.open_next(orchard, now=moment(day), today=day)
    tasks = Task.objects.open().filter(kind="care", key=job).order_by("due_on")
    return [(task.tree.code, task.due_on) for task in tasks.select_related("tree")]


def lane_of(tree, user, lane):
    member = Membership.objects.get(user=user, orchard=tree.orchard)
    page = timeline.timeline_of(tree, member, today=date(2026, 2, 1), lanes=[lane])
    return [event.title for event in page.events]


@pytest.mark.parametrize("what", FROSTS)
def test_a_frost_of_the_orchard_stands_in_the_weather_of_each_tree(
    orchard, trees, vera, what
):
    note(orchard, vera, what)
    for tree in trees:
        (title,) = lane_of(tree, vera, Lane.WEATHER)
        assert title.endswith("whole orchard")
        assert not [said for said in lane_of(tree, vera, Lane.LIFE) if "rost" in said]


@pytest.mark.parametrize("what", FROSTS)
def test_a_frost_of_one_tree_stands_in_its_weather_alone(orchard, trees, vera, what):
    struck, spared = trees
    note(orchard, vera, what, tree=struck)
    assert len(lane_of(struck, vera, Lane.WEATHER)) == 1
    assert lane_of(spared, vera, Lane.WEATHER) == []


@pytest.mark.parametrize("what", FROSTS)
def test_verdicts_know_the_days_since_any_noted_frost(orchard, trees, vera, what):
    struck, spared = trees
    day = FROST + timedelta(days=2)
    note(orchard, vera, what, tree=struck)
    assert gather(struck, on=day).base["frost_days"] == 2
    assert "frost_days" not in gather(spared, on=day).base
    note(orchard, vera, what, on=day)
    assert gather(spared, on=day).base["frost_days"] == 0


@pytest.mark.parametrize("what", FROSTS)
def test_any_noted_frost_asks_for_a_look_three_days_on(orchard, trees, vera, what):
    note(orchard, vera, what)
    due = FROST + timedelta(days=3)
    assert sorted(looks(orchard)) == [("A-1", due), ("A-2", due)]


@pytest.mark.parametrize("what", FROSTS)
def test_a_frost_of_one_tree_asks_for_a_look_at_it_alone(orchard, trees, vera, what):
    note(orchard, vera, what, tree=trees[0])
    assert looks(orchard) == [("A-1", FROST + timedelta(days=3))]


@pytest.mark.parametrize(
    ("what", "cut"), [("frost_night", 0), ("hard_frost", 1), ("severe_frost", 1)]
)
def test_fruit_is_cut_open_after_a_hard_frost_and_after_a_severe_one(
    orchard, trees, vera, what, cut
):
    note(orchard, vera, what, tree=trees[0])
    assert looks(orchard, "frost_fruit_cut", FROST) == [("A-1", FROST)] * cut


def test_a_withdrawn_frost_asks_for_nothing(orchard, trees, vera):
    row = note(orchard, vera, "hard_frost")
    observations.withdraw_event(row, by=vera, now=moment(FROST), reason="Wrong place")
    assert looks(orchard) == []
    assert "frost_days" not in gather(trees[0], on=FROST).base


def test_a_cold_spell_asks_for_one_look_until_a_colder_night(orchard, trees, vera):
    note(orchard, vera, "frost_night", tree=trees[0])
    note(orchard, vera, "frost_night", on=FROST + timedelta(days=1), tree=trees[0])
    first = ("A-1", FROST + timedelta(days=3))
    assert looks(orchard, day=FROST + timedelta(days=4)) == [first]
    Task.objects.all().delete()
    note(orchard, vera, "hard_frost", on=FROST + timedelta(days=2), tree=trees[0])
    colder = ("A-1", FROST + timedelta(days=5))
    assert looks(orchard, day=FROST + timedelta(days=5)) == [colder]


def test_where_it_was_measured_too_the_thermometer_decides(orchard, trees, vera):
    # A grown navel (T3) is hurt from -2.5 °C at its softest (common practice).
    note(orchard, vera, "hard_frost")
    Reading.objects.create(
        orchard=orchard, what="lowest", at=moment(FROST), on=FROST, celsius=-2.2,
        by=vera, received_at=moment(FROST),
    )  # fmt: skip
    assert looks(orchard) == []
    note(orchard, vera, "hard_frost", tree=trees[1])
    assert looks(orchard) == [("A-2", FROST + timedelta(days=3))]


def test_a_frost_noted_where_the_thermometer_stayed_above_counts(orchard, trees, vera):
    note(orchard, vera, "hard_frost")
    Reading.objects.create(
        orchard=orchard, what="lowest", at=moment(FROST), on=FROST, celsius=-1.0,
        by=vera, received_at=moment(FROST),
    )  # fmt: skip
    assert len(looks(orchard)) == 2


def test_the_work_that_follows_opens_with_the_note(orchard, trees, vera):
    _row, opened = observations.note_event_and_open(
        orchard,
        what="hard_frost",
        happened_on=FROST,
        by=vera,
        now=moment(FROST),
        today=FROST,
    )
    assert {task.key for task in opened} == {"frost_fruit_cut"}
    assert len(opened) == 2
