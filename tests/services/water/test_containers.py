"""Water in containers."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from orchard.records.models import (
    CarePlan,
    Crown,
    Task,
)
from orchard.services import (
    care_plan,
    tasks,
    water,
)
from orchard.services.water import Call
from tests.conftest import make_tree
from tests.services.weather_days import AFTERNOON, JANUARY, TODAY, add_days


def the_schedule(orchard):
    return water.water_schedule(orchard, today=TODAY)


def warm_week(orchard, vera, **more):
    """Note 40 days of 8 to 22 °C up to yesterday."""
    add_days(orchard, vera, TODAY - timedelta(days=40), 40, **more)


@pytest.fixture
def pot(watered, vera):
    """A tree 1 m across in 40 L, which hold 9.6 L for roots and 8 L with ease."""
    tree = make_tree(
        watered.orchard, "A-2", setting="container", container_litres=Decimal("40.0")
    )
    water.measure_crown(
        tree, measured_on=JANUARY, width_m=1.0, by=vera, now=AFTERNOON, today=JANUARY
    )
    return tree


def give(tree, vera, litres, *, back=0):
    return water.note_watering(
        [tree],
        given_on=TODAY - timedelta(days=back),
        litres=litres,
        by=vera,
        now=datetime(2026, 6, 10, 9, tzinfo=UTC),
        today=TODAY,
    )


def of_pot(tree):
    rows = [row for group in the_schedule(tree.orchard).groups for row in group.rows]
    [row] = [row for row in rows if row.tree.pk == tree.pk]
    return row


def test_a_pot_misses_what_its_tree_drew_since_water_ran_through(pot, vera):
    warm_week(pot.orchard, vera)
    give(pot, vera, 12.0, back=2)
    row = of_pot(pot)
    # By hand: 12 L fill any pot that holds 9.6 L. From then on two days' need over a
    # crown circle of 0.785 m2 at a coefficient of 1.0, each out of ready water.
    days = the_schedule(pot.orchard).days[-2:]
    drawn = sum(day.et0 * 0.7854 for day in days)
    assert drawn < 8.0
    assert row.litres == pytest.approx(drawn, rel=1e-3)
    give(pot, vera, 1.0)
    assert of_pot(pot).litres == pytest.approx(drawn - 1.0, rel=1e-3)


def test_a_small_pot_in_heat_is_watered_twice_that_day(pot, vera):
    warm_week(pot.orchard, vera)
    pot.container_litres = Decimal("10.0")
    pot.save()
    give(pot, vera, 12.0, back=1)
    row = of_pot(pot)
    # By hand: 3.7 L a day, 0.8 x 0.24 x 10 L = 1.92 L between waterings.
    assert row.call == Call.TODAY
    assert row.times == 2


@pytest.mark.parametrize(("gap_at", "is_range"), [(6, True), (30, False)])
def test_much_estimated_of_a_pot_is_a_range_and_its_share_is_told(
    pot, vera, gap_at, is_range
):
    pot.container_litres = Decimal("200.0")
    pot.save()
    gap = {TODAY - timedelta(days=gap_at)}
    add_days(pot.orchard, vera, TODAY - timedelta(days=40), 36, skip=gap)
    cold = {"low": 1.0, "high": 3.0}
    add_days(pot.orchard, vera, TODAY - timedelta(days=4), 4, **cold)
    give(pot, vera, 60.0, back=9)
    row = of_pot(pot)
    if not is_range:
        assert (row.low, row.high) == (None, None)
        return
    # One warm day of five, beside four cold ones: some 17 %.
    assert row.low < row.litres <= row.high
    found = water.ground_of_tree(pot.orchard, pot, today=TODAY)
    assert "% of the use is estimated." in found.numbers[0].method


def test_rain_reaches_a_pot_through_its_mouth_alone(pot, vera):
    add_days(pot.orchard, vera, TODAY - timedelta(days=40), 39)
    add_days(pot.orchard, vera, TODAY - timedelta(days=1), 1, rain_mm=10.0)
    give(pot, vera, 12.0, back=2)
    days = the_schedule(pot.orchard).days[-2:]
    drawn = sum(day.et0 * 0.7854 for day in days)
    # A cylinder as wide as it is high that holds 40 L is 0.3707 m across: 0.1079 m2.
    assert of_pot(pot).litres == pytest.approx(drawn - 10 * 0.1079, rel=1e-3)


def test_a_pot_that_nothing_filled_tells_of_no_balance(pot, vera):
    warm_week(pot.orchard, vera)
    give(pot, vera, 2.0, back=3)
    found = water.ground_of_tree(pot.orchard, pot, today=TODAY)
    assert not found.pot.is_known
    assert "until it runs out" in found.why_not
    give(pot, vera, 12.0, back=1)
    found = water.ground_of_tree(pot.orchard, pot, today=TODAY)
    assert found.pot.full_on == TODAY - timedelta(days=1)
    assert found.numbers[0].value == pytest.approx(found.pot.missing)


@pytest.mark.parametrize("lacking", ["volume", "crown", "days"])
def test_without_volume_crown_or_weather_no_pot_is_guessed_at(pot, vera, lacking):
    gap = set()
    if lacking == "days":
        gap = {TODAY - timedelta(days=back) for back in range(1, 12)}
    warm_week(pot.orchard, vera, skip=gap)
    give(pot, vera, 12.0, back=3)
    if lacking == "volume":
        pot.container_litres = None
        pot.save()
    if lacking == "crown":
        [crown] = Crown.objects.filter(tree=pot)
        now = datetime(2026, 6, 10, 9, tzinfo=UTC)
        water.withdraw_measurement(
            crown, by=vera, now=now, reason="measured at the wrong tree"
        )
    found = water.ground_of_tree(pot.orchard, pot, today=TODAY)
    assert not found.pot.is_known
    assert found.why_not.startswith("No data")


def open_water_job(orchard, day):
    now = datetime(day.year, day.month, day.day, 4, tzinfo=UTC)
    care_plan.open_next(orchard, now=now, today=day)
    return Task.objects.open().filter(kind="care", key="water_pot")


def test_a_pot_is_asked_for_before_it_runs_dry(pot, vera, cora):
    """0.8 of 9.6 L is 7.7; by hand the tree draws 3.7 L a day."""
    CarePlan.objects.create(
        orchard=pot.orchard, job="water_pot", set_by=cora, set_at=AFTERNOON
    )
    warm_week(pot.orchard, vera)
    [full] = give(pot, vera, 12.0, back=1)
    assert not open_water_job(pot.orchard, TODAY).exists()
    now = datetime(2026, 6, 10, 9, tzinfo=UTC)
    water.withdraw_measurement(full, by=vera, now=now, reason="it was the pot beside")
    give(pot, vera, 12.0, back=3)
    [task] = open_water_job(pot.orchard, TODAY)
    assert task.tree == pot
    assert task.due_on == TODAY + timedelta(days=1)
    assert "of the readily available water is used since 7 Jun" in task.because
    # Water until it runs out, ticked without litres: the pot is full again.
    tasks.close(task, by=vera, now=now, today=TODAY)
    assert of_pot(pot).litres == 0.0


def test_a_cup_of_water_does_not_fill_a_pot_nor_does_skipping(pot, vera, cora):
    CarePlan.objects.create(
        orchard=pot.orchard, job="water_pot", set_by=cora, set_at=AFTERNOON
    )
    warm_week(pot.orchard, vera)
    give(pot, vera, 12.0, back=8)
    [task] = open_water_job(pot.orchard, TODAY)
    before = of_pot(pot).litres
    give(pot, vera, 0.5)
    assert not Task.objects.open().filter(pk=task.pk).exists()
    assert of_pot(pot).litres == pytest.approx(before - 0.5, rel=1e-6)
    tomorrow = open_water_job(pot.orchard, TODAY + timedelta(days=1))
    assert not tomorrow.exists(), "the weather of the day between is not known yet"
