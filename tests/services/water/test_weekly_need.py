"""Litres of the week: need, rain, waterings, and the balance of the ground."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from orchard.records.models import (
    CarePlan,
    Closure,
    Task,
)
from orchard.science import weather
from orchard.science.water import crop_coefficient_on
from orchard.services import (
    care_plan,
    tasks,
    water,
)
from tests.conftest import make_tree
from tests.services.weather_days import AFTERNOON, JANUARY, TODAY, add_days


def the_week(orchard):
    return water.week_of_water(orchard, today=TODAY)


def test_litres_are_need_over_the_crown_circle(watered, vera):
    orchard = watered.orchard
    add_days(orchard, vera, TODAY - timedelta(days=40), 40, wind_2m=2.0, rh_mean=60.0)
    week = the_week(orchard)
    by_hand = 0.0
    for back in range(1, 8):
        on = TODAY - timedelta(days=back)
        et0 = weather.reference_et(
            on, 38.5, float(orchard.elevation_m), 8.0, 22.0, wind_2m=2.0, rh_mean=60.0
        ).mm
        by_hand += et0 * crop_coefficient_on(on, 38.5, 1.0, "bare")
    [row] = week.rows
    # A crown 3 m across covers 7.069 m2; 1 mm on 1 m2 is 1 L.
    assert row.need.value == pytest.approx(by_hand * 7.0686, rel=1e-4)
    assert row.left.value == pytest.approx(row.need.value)
    assert not week.missing


def test_temperatures_alone_go_by_hargreaves(watered, vera):
    add_days(watered.orchard, vera, TODAY - timedelta(days=40), 40)
    assert {day.method for day in the_week(watered.orchard).days} == {
        "Hargreaves, from temperatures alone"
    }


def test_a_missing_day_is_named_and_no_litres_are_told(watered, vera):
    gap = TODAY - timedelta(days=3)
    add_days(watered.orchard, vera, TODAY - timedelta(days=40), 40, skip={gap})
    week = the_week(watered.orchard)
    assert [day.on for day in week.missing] == [gap]
    assert not week.et0.is_known
    [row] = week.rows
    assert not row.need.is_known
    assert "no data for this day" in row.need.missing


def test_without_a_crown_or_soil_there_is_no_guess(tree, vera):
    add_days(tree.orchard, vera, TODAY - timedelta(days=40), 40)
    [row] = the_week(tree.orchard).rows
    assert "crown is not measured" in row.need.missing
    water.measure_crown(
        tree, measured_on=JANUARY, width_m=3.0, by=vera, now=AFTERNOON, today=JANUARY
    )
    [row] = the_week(tree.orchard).rows
    assert "what the ground is like" in row.need.missing


def test_rain_and_waterings_are_taken_off_on_the_ground_only(watered, vera):
    orchard = watered.orchard
    pot = make_tree(orchard, "A-2", setting="container")
    water.measure_crown(
        pot, measured_on=JANUARY, width_m=1.0, by=vera, now=AFTERNOON, today=JANUARY
    )
    add_days(orchard, vera, TODAY - timedelta(days=40), 40, rain_mm=2.0)
    now = datetime(2026, 6, 10, 9, tzinfo=UTC)
    water.note_watering(
        [watered, pot], given_on=TODAY, litres=10.0, by=vera, now=now, today=TODAY
    )
    rows = {row.tree.code: row for row in the_week(orchard).rows}
    assert rows["A-1"].rain_l == pytest.approx(7 * 2.0 * 7.0686, rel=1e-4)
    assert rows["A-2"].rain_l == 0.0
    for row in rows.values():
        left = max(0.0, row.need.value - row.rain_l - 10.0)
        assert row.left.value == pytest.approx(left)


def test_skipped_work_does_not_count_as_water_in_the_ground(watered, vera, cora):
    orchard = watered.orchard
    CarePlan.objects.create(
        orchard=orchard, job="water_ground", set_by=cora, set_at=AFTERNOON
    )
    add_days(orchard, vera, TODAY - timedelta(days=40), 1, rain_mm=60.0)
    add_days(orchard, vera, TODAY - timedelta(days=39), 39)
    now = datetime(2026, 6, 10, 4, tzinfo=UTC)
    care_plan.open_next(orchard, now=now, today=TODAY - timedelta(days=2))
    [task] = Task.objects.open().filter(kind="care", key="water_ground")
    [row] = the_week(orchard).rows
    before = row.left.value
    two_days_ago = TODAY - timedelta(days=2)
    tasks.close(
        task, by=cora, now=now, today=two_days_ago, how="skipped", reason="no time"
    )
    [row] = the_week(orchard).rows
    assert row.left.value == pytest.approx(before)
    assert before > 0


def test_the_balance_begins_with_the_rain_that_filled_the_ground(watered, vera):
    orchard = watered.orchard
    soaked = TODAY - timedelta(days=20)
    add_days(orchard, vera, TODAY - timedelta(days=40), 20)
    add_days(orchard, vera, soaked, 1, rain_mm=60.0)
    add_days(orchard, vera, soaked + timedelta(days=1), 19)
    week = the_week(orchard)
    assert week.full_on == soaked
    assert len(week.balance) == 19
    assert week.depleted.value == pytest.approx(week.balance[-1].depleted)


def test_what_is_still_to_give_is_what_the_ground_misses(watered, vera):
    # Rain that ran through the full ground does not water the days after it.
    orchard = watered.orchard
    soaked = TODAY - timedelta(days=5)
    add_days(orchard, vera, TODAY - timedelta(days=40), 35)
    add_days(orchard, vera, soaked, 1, rain_mm=200.0)
    add_days(orchard, vera, soaked + timedelta(days=1), 4)
    week = the_week(orchard)
    [row] = week.rows
    # 1 mm over a crown 3 m across is 7.069 L.
    assert week.depleted.value > 1
    assert row.left.value == pytest.approx(week.depleted.value * 7.0686, rel=1e-4)


def test_watering_closes_the_open_task(watered, vera):
    Task.objects.create(
        orchard=watered.orchard,
        tree=watered,
        block=watered.spot.block,
        rank=2,
        kind="care",
        key="water_ground",
        occurrence="dry",
        title="Water",
        opens_on=TODAY - timedelta(days=1),
        due_on=TODAY,
        rhythm_days=14,
        made_at=AFTERNOON,
    )
    now = datetime(2026, 6, 10, 9, tzinfo=UTC)
    water.note_watering(
        [watered], given_on=TODAY, litres=60.0, by=vera, now=now, today=TODAY
    )
    assert not Task.objects.open().exists()
    assert Closure.objects.get().evidence
