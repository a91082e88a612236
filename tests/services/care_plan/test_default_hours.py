"""The default plan fits the hours that a crew of volunteers has in a year.

The orchard: 60 trees, 52 in the ground, of these 12 young, and 8 pots, in three
blocks of drip lines and a terrace of pots. Common practice: such an orchard has about
600 hours a year; 409 of them come back every year, the rest is for what is found.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from orchard.records.models import CarePlan, Kind
from orchard.science import guide
from orchard.science.windows import turns_by_month
from orchard.services import care_plan
from orchard.services.guide_sync import bring_up_to_date
from tests.conftest import NOW, TODAY, make_orchard, make_person, make_tree
from tests.services.weather_days import add_days

pytestmark = pytest.mark.django_db
LONG_AGO = datetime(2015, 1, 1, tzinfo=UTC)
YEAR = 365


@pytest.fixture
def sixty(db):
    orchard = make_orchard(founded_at=LONG_AGO, frost_from="SM8-15", frost_to="SM2-15")
    cora = make_person("Cora", orchard, "coordinator")
    add_days(orchard, cora, TODAY - timedelta(days=9), 9)
    bring_up_to_date(orchard, NOW)
    navel = Kind.objects.get(orchard=orchard, name="Washington navel")
    peach, apple = (
        Kind.objects.create(orchard=orchard, name=name, host=host, group=name)
        for name, host in (("peach", "stone"), ("apple", "pome"))
    )

    def plant(code, days, kind=navel, **fields):
        values = {
            "planted_on": TODAY - timedelta(days=days),
            "born_on": TODAY - timedelta(days=days),
            "irrigated": True,
            "on_display": False,
            **fields,
        }
        return make_tree(orchard, code, kind=kind, **values)

    for number in range(40):
        kind = peach if number < 3 else apple if number < 6 else navel
        shown = number % 3 == 0
        plant(f"{'ABC'[number % 3]}-{number}", 8 * YEAR, kind, on_display=shown)
    for number in range(40, 52):
        age = (90, 500, 900)[number % 3]
        plant(f"{'ABC'[number % 3]}-{number}", age)
    for number in range(8):
        plant(f"P-{number}", 900, setting="container", irrigated=False)
    return orchard


def test_sixty_trees_ask_about_four_hundred_hours_a_year(sixty):
    jobs = care_plan.planned_jobs(sixty, today=TODAY)
    hours = {one.job.key: round(one.hours, 1) for one in jobs if one.plan.active}
    assert 409 * 0.9 <= sum(hours.values()) <= 409 * 1.1, hours


@pytest.mark.parametrize("key", guide.load().jobs)
def test_every_job_says_how_often_it_comes_in_a_year(key):
    job = guide.load().jobs[key]
    year = turns_by_month(job.trigger, job.turns, job.busy)
    assert len(year) == 12
    assert 0 < sum(year) <= 365


def test_hours_follow_the_interval_that_an_orchard_sets_itself(sixty):
    def hours(job):
        return care_plan.planned_job(sixty, job, today=TODAY).hours

    look, scout = hours("monthly_look"), hours("scout_round")
    rows = CarePlan.objects.filter(orchard=sixty)
    rows.filter(job="monthly_look").update(every_days=60)
    rows.filter(job="scout_round").update(every_days=7)
    assert hours("monthly_look") == pytest.approx(look / 2)
    assert hours("scout_round") == pytest.approx(scout * 2)
    rows.filter(job="monthly_look").update(active=False)
    assert hours("monthly_look") == 0


def test_no_month_of_summer_asks_more_than_a_crew_has(sixty):
    year = care_plan.hours_of(care_plan.planned_jobs(sixty, today=TODAY))
    # July is the fifth month of the season year in the north.
    assert 20 < year.by_month[4] <= 52
    assert max(year.by_month) <= 52
