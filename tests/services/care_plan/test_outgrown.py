"""Care that is no longer asked for falls away, and seasons turn with the place."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from orchard.records.models import CarePlan, Closure, Finding, User, WeatherDay
from orchard.science import guide
from orchard.science.water import ZoneDay
from orchard.science.windows import Done, History
from orchard.services import care_plan, inspections, orchards, tasks
from orchard.services.care_plan import measurements
from orchard.services.inspections import SeenSign
from tests.conftest import make_orchard, make_person, make_tree
from tests.services.weather_days import add_days

pytestmark = pytest.mark.django_db

LONG_AGO = datetime(2015, 1, 1, tzinfo=UTC)
DAY = date(2026, 5, 12)


def moment(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 9, tzinfo=UTC)


def plan(orchard, job, **fields) -> CarePlan:
    values = {"active": True, "set_at": LONG_AGO, **fields}
    return CarePlan.objects.create(orchard=orchard, job=job, **values)


def old_tree(orchard, code="A-1", **fields):
    return make_tree(orchard, code, entered_at=LONG_AGO, **fields)


def night(orchard, day: date):
    fallen = care_plan.cancel_outgrown(orchard, now=moment(day), today=day)
    return fallen, care_plan.open_next(orchard, now=moment(day), today=day)


@pytest.fixture
def orchard(db):
    return make_orchard(founded_at=LONG_AGO)


def test_watering_of_new_trees_ends_when_a_tree_is_no_longer_new(orchard):
    """The guide waters a tree as new for 180 days (care job "water_new")."""
    planted = DAY - timedelta(days=170)
    old_tree(orchard, planted_on=planted, born_on=None)
    plan(orchard, "water_new")
    _fallen, [task] = night(orchard, DAY)
    assert night(orchard, planted + timedelta(days=179)) == ([], [])
    fallen, opened = night(orchard, planted + timedelta(days=180))
    assert (fallen, opened) == ([task], [])
    closure = Closure.objects.get(task=task)
    assert (closure.how, closure.by) == ("cancelled", None)
    assert closure.reason == (
        "A-1 is no longer one of the trees it is for: Trees planted within 180 days."
    )


def test_care_that_the_plan_still_asks_for_stays_open(orchard):
    old_tree(orchard)
    plan(orchard, "sucker_round")
    plan(orchard, "mulch", window="SM1-01..SM12-28")
    _fallen, opened = night(orchard, DAY)
    assert len(opened) == 2
    assert night(orchard, DAY + timedelta(days=60)) == ([], [])


def test_frost_care_falls_away_with_the_frost_season(orchard, cora):
    old_tree(orchard)
    plan(orchard, "frost_kit", window="SM1-01..SM12-28")
    _fallen, [task] = night(orchard, DAY)
    orchards.correct_details(
        orchard, by=cora, now=moment(DAY), frost_from="", frost_to=""
    )
    closure = Closure.objects.get(task=task)
    assert (closure.by, closure.reason) == (
        cora,
        "No frost season is set for this orchard.",
    )


class TestSameSiteMoved:
    """An orchard entered north of the equator that lies south of it."""

    def move(self, orchard, cora, latitude="-34.8"):
        orchards.correct_details(
            orchard,
            by=cora,
            now=moment(DAY),
            latitude=latitude,
            time_zone="Australia/Adelaide",
        )
        orchard.refresh_from_db()

    def test_windows_start_anew_from_today(self, orchard, cora):
        tree = old_tree(orchard)
        # May is month 3 of the season year in the north and month 9 in the south.
        plan(orchard, "mulch", window="SM3-01..SM3-31")
        plan(orchard, "skirt", window="SM8-01..SM9-05")
        _fallen, [mulch] = night(orchard, DAY)
        assert (mulch.key, mulch.due_on) == ("mulch", date(2026, 5, 31))
        self.move(orchard, cora)
        closure = Closure.objects.get(task=mulch)
        assert closure.how == "cancelled"
        assert "its seasons changed" in closure.reason
        # The window to 5 May is over and was never missed: nobody was asked.
        assert not tree.tasks.open().exists()
        assert night(orchard, DAY + timedelta(days=1)) == ([], [])
        _fallen, [again] = night(orchard, date(2026, 11, 2))
        assert (again.key, again.due_on) == ("mulch", date(2026, 11, 30))

    def test_what_is_in_season_there_opens_at_once_and_is_not_late(self, orchard, cora):
        old_tree(orchard)
        plan(orchard, "mulch", window="SM8-01..SM9-20")
        assert night(orchard, DAY) == ([], [])
        self.move(orchard, cora)
        task = orchard.tasks.open().get()
        assert (task.key, task.due_on) == ("mulch", date(2026, 5, 20))

    def test_what_was_seen_keeps_its_dates_and_its_work(self, orchard, cora, vera):
        tree = old_tree(orchard)
        inspections.record(
            tree,
            by=vera,
            now=moment(DAY),
            seen_at=moment(DAY),
            findings=[SeenSign("sucker")],
        )
        kept = Finding.objects.values("due_on", "because", "inspection__seen_on")
        before = list(kept)
        work_before = list(tree.tasks.open().values("key", "due_on"))
        assert work_before
        self.move(orchard, cora)
        assert list(kept) == before
        assert list(tree.tasks.open().values("key", "due_on")) == work_before

    def test_a_correction_within_the_hemisphere_moves_no_window(self, orchard, cora):
        old_tree(orchard)
        plan(orchard, "mulch", window="SM3-01..SM3-31")
        _fallen, [task] = night(orchard, DAY)
        self.move(orchard, cora, latitude="12.5")
        task.refresh_from_db()
        assert (task.closed_at, task.due_on) == (None, date(2026, 5, 31))


@pytest.fixture
def newly_planted(orchard):
    """A tree planted ten days ago, watered since; dry days until yesterday."""
    cora = make_person("Cora", orchard, "coordinator")
    tree = old_tree(orchard, planted_on=DAY - timedelta(days=10), born_on=None)
    plan(orchard, "water_new")
    start = DAY - timedelta(days=30)
    add_days(orchard, cora, start, 30, low=12.0, high=26.0)
    _fallen, [task] = night(orchard, DAY - timedelta(days=5))
    tasks.close(
        task,
        by=cora,
        now=moment(DAY - timedelta(days=4)),
        today=DAY - timedelta(days=4),
    )
    return tree


def rain(orchard, day: date, mm: float):
    WeatherDay.objects.filter(station__orchard=orchard, on=day).update(rain_mm=mm)


def test_a_new_tree_is_watered_every_few_days_without_rain(newly_planted, orchard):
    _fallen, [task] = night(orchard, DAY)
    assert task.due_on == DAY - timedelta(days=1)


def test_rain_that_meets_the_need_takes_the_turn_of_a_new_tree(newly_planted, orchard):
    rain(orchard, DAY - timedelta(days=2), 15.0)
    assert night(orchard, DAY) == ([], [])
    _fallen, [task] = night(orchard, DAY + timedelta(days=1))
    assert task.due_on == DAY + timedelta(days=1)


def test_a_shower_below_the_need_changes_nothing(newly_planted, orchard):
    rain(orchard, DAY - timedelta(days=2), 1.0)
    _fallen, [task] = night(orchard, DAY)
    assert task.due_on == DAY - timedelta(days=1)


def test_rain_takes_away_the_open_watering_of_a_new_tree(newly_planted, orchard):
    _fallen, [task] = night(orchard, DAY)
    cora = User.objects.get(name="Cora")
    add_days(orchard, cora, DAY, 1, low=12.0, high=26.0, rain_mm=15.0)
    assert night(orchard, DAY + timedelta(days=1)) == ([], [])
    closure = Closure.objects.get(task=task)
    assert (closure.how, closure.reason) == ("cancelled", "Rain has watered it.")


def test_rain_entered_late_takes_away_the_watering_opened_meanwhile(
    newly_planted, orchard
):
    _fallen, [task] = night(orchard, DAY)
    rain(orchard, task.opens_on - timedelta(days=1), 15.0)
    assert night(orchard, DAY) == ([], [])
    assert Closure.objects.get(task=task).reason == "Rain has watered it."


def test_rain_entered_late_leaves_a_watering_that_is_due_again(newly_planted, orchard):
    _fallen, [task] = night(orchard, DAY)
    rain(orchard, task.opens_on - timedelta(days=1), 15.0)
    assert night(orchard, DAY + timedelta(days=2)) == ([], [])
    task.refresh_from_db()
    assert task.closed_at is None


# From the day after the last turn on: what a tree needs of a day, and what rain brings.
@pytest.mark.parametrize(
    ("days", "rained"),
    [
        pytest.param([(2, 0), (2, 0), (2, 6)], [3], id="met on the third day"),
        pytest.param([(2, 0), (2, 0), (2, 5.9)], [], id="a little less"),
        pytest.param([(0, 9), (2, 0), (2, 0)], [], id="rain before any need"),
        pytest.param([(2, 9), (2, 0), (2, 3.9)], [1], id="what ran past is gone"),
        pytest.param([(2, 2), (0, 0), (2, 2)], [1, 3], id="two turns of rain"),
        pytest.param([None, (2, 0), (2, 9)], [], id="a gap hides what was used"),
        pytest.param(
            [None, *[(2, 0)] * 5, (2, 14)], [], id="six days are no whole interval"
        ),
        pytest.param(
            [None, *[(2, 0)] * 6, (2, 14)], [8], id="seven days are a whole interval"
        ),
    ],
)
def test_days_on_which_rain_met_the_need(orchard, days, rained):
    """The guide waters a new tree every 3, later every 7 days ("water_new")."""
    job = guide.load().jobs["water_new"]
    turn = DAY - timedelta(days=20)
    known = care_plan.gather_context(orchard, today=DAY)
    weather = measurements.read_measurements(known, [job], now=moment(DAY))
    zone_days = tuple(
        ZoneDay(turn + timedelta(days=step), *need_and_rain)
        for step, need_and_rain in enumerate(days, start=1)
        if need_and_rain is not None
    )
    weather = replace(weather, ground=replace(weather.ground, zone_days=zone_days))
    history = History(done=(Done(turn),), planted_on=turn)
    found = measurements.rained_on(history, weather, job.trigger)
    assert [(day - turn).days for day in found] == rained
