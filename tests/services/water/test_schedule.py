"""When trees are watered: today, not before a day, or no data; and the litres."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest

from orchard.records.models import (
    CarePlan,
    Change,
    Closure,
    Station,
    Task,
    Watering,
    WeatherDay,
)
from orchard.science import weather
from orchard.science.water import crop_coefficient_on, ready_share
from orchard.services import (
    care_plan,
    tasks,
    water,
)
from orchard.services import weather as weather_service
from orchard.services.water import Call, read_root_water
from tests.conftest import make_tree
from tests.refusals import refused
from tests.services.weather_days import AFTERNOON, JANUARY, TODAY, add_days

NOW = datetime(2026, 6, 10, 9, tzinfo=UTC)
# A crown 3 m across covers 7.069 m2; 1 mm on 1 m2 is 1 L.
CIRCLE = 7.0686


def the_schedule(orchard):
    return water.water_schedule(orchard, today=TODAY)


def row_for(orchard, code="A-1"):
    rows = [row for group in the_schedule(orchard).groups for row in group.rows]
    [row] = [row for row in rows if row.tree.code == code]
    return row


def soak(orchard, vera, *, back, skip=(), **more):
    """Note a soaking rain so many days ago, and dry days of 8 to 22 °C since."""
    soaked = TODAY - timedelta(days=back)
    add_days(orchard, vera, soaked, 1, rain_mm=200.0)
    add_days(orchard, vera, soaked + timedelta(days=1), back - 1, skip=skip, **more)


def used_a_day(on):
    et0 = weather.hargreaves_et(on, 38.5, 8.0, 22.0)
    return et0 * crop_coefficient_on(on, 38.5, 1.0, "bare")


def used_in(days):
    """Sum the use of the last days up to yesterday, mm, by hand."""
    return sum(used_a_day(TODAY - timedelta(days=back)) for back in range(1, days + 1))


@pytest.fixture
def young(watered):
    """A tree whose roots reach 93 mm of loam, 0.6 m deep."""
    watered.planted_on = TODAY - timedelta(days=5 * 365)
    watered.save()
    return watered


def test_what_is_missing_since_the_rain_refills_it_and_no_more(young, vera):
    soak(young.orchard, vera, back=5)
    row = row_for(young.orchard)
    assert row.litres == pytest.approx(used_in(4) * CIRCLE, rel=1e-3)
    assert row.call == Call.LATER


def test_the_two_days_are_those_of_ready_water(young, vera):
    soak(young.orchard, vera, back=5)
    row = row_for(young.orchard)
    # The day of the rain counts among the last seven as well.
    daily = used_in(5) / 5
    ready = 93.0 * ready_share(daily)
    first = math.ceil((0.7 * ready - used_in(4)) / daily)
    last = int((ready - used_in(4)) / daily)
    assert row.not_before == TODAY + timedelta(days=first)
    assert row.not_later == TODAY + timedelta(days=last)


def test_water_today_from_seven_tenths_of_ready_water_on(young, vera):
    soak(young.orchard, vera, back=30)
    row = row_for(young.orchard)
    assert used_in(29) > 0.7 * 93.0 * ready_share(used_in(7) / 7)
    assert row.call == Call.TODAY
    assert the_schedule(young.orchard).due_today == 1


@pytest.mark.parametrize(
    ("years", "total"), [(1, 46.5), (5, 93.0), (20, 155.0), (None, 93.0)]
)
def test_older_trees_root_deeper(watered, vera, years, total):
    planted = TODAY - timedelta(days=years * 366) if years else None
    watered.born_on, watered.planted_on = None, planted
    watered.save()
    soak(watered.orchard, vera, back=5)
    [(ground, _number)] = the_schedule(watered.orchard).grounds
    assert ground.total == pytest.approx(total)


def test_depths_of_the_site_and_a_drip_strip_take_the_place_of_the_usual(
    young, vera, cora
):
    soak(young.orchard, vera, back=5)
    water.set_soil(
        young.orchard, sort="loam", cover="bare", by=cora, now=NOW, depth_young_m=0.5
    )
    [(ground, _number)] = the_schedule(young.orchard).grounds
    assert ground.total == pytest.approx(77.5)
    water.set_soil(
        young.orchard, sort="sand", cover="bare", by=cora, now=NOW, is_strip=True
    )
    [(ground, _number)] = the_schedule(young.orchard).grounds
    assert (ground.depth, ground.total) == (None, 18.0)
    with refused("out_of_range"):
        water.set_soil(
            young.orchard, sort="sand", cover="bare", by=cora, now=NOW, depth_new_m=9.0
        )


def test_every_watering_counts_and_so_does_rain(young, vera):
    soak(young.orchard, vera, back=10)
    before = row_for(young.orchard).litres
    water.note_watering(
        [young],
        given_on=TODAY - timedelta(days=2),
        litres=20.0,
        by=vera,
        now=NOW,
        today=TODAY,
    )
    assert row_for(young.orchard).litres == pytest.approx(before - 20.0, rel=1e-6)
    water.note_watering(
        [young], given_on=TODAY, litres=5.0, by=vera, now=NOW, today=TODAY
    )
    assert row_for(young.orchard).litres == pytest.approx(before - 25.0, rel=1e-6)


def test_one_missing_day_is_bridged_and_marked(young, vera):
    gap = TODAY - timedelta(days=6)
    soak(young.orchard, vera, back=13, skip={gap})
    row = row_for(young.orchard)
    assert row.is_estimated
    assert row.low is None
    # The line between two equal days is that day: by hand the same use.
    assert row.litres == pytest.approx(used_in(12) * CIRCLE, rel=1e-3)
    [(_ground, number)] = the_schedule(young.orchard).grounds
    assert "estimated" in number.method


def test_a_longer_gap_takes_the_mean_of_that_week_in_earlier_years(young, vera):
    gap = {TODAY - timedelta(days=back) for back in range(8, 12)}
    soak(young.orchard, vera, back=25, skip=gap)
    for years, low, high in ((1, 10.0, 24.0), (2, 12.0, 26.0)):
        start = TODAY - timedelta(days=365 * years + 20)
        add_days(young.orchard, vera, start, 30, low=low, high=high)
    # Grown, so that all that it used was ready water.
    young.born_on, young.planted_on = None, TODAY - timedelta(days=20 * 366)
    young.save()
    row = row_for(young.orchard)
    # By hand: lows of 10 and 12 are 11, highs of 24 and 26 are 25.
    guessed = sum(
        weather.hargreaves_et(on, 38.5, 11.0, 25.0)
        * crop_coefficient_on(on, 38.5, 1.0, "bare")
        for on in gap
    )
    measured = used_in(24) - sum(used_a_day(on) for on in gap)
    assert row.litres == pytest.approx((guessed + measured) * CIRCLE, rel=1e-3)
    assert row.is_estimated
    assert row.low < row.litres < row.high
    roots = read_root_water(young.orchard, days_before(young.orchard), today=TODAY)
    methods = {roots.days[on].method for on in gap}
    assert methods == {"estimated: the mean of this week in earlier years"}


def days_before(orchard):
    first = water.first_balance_day(TODAY)
    return weather_service.span(orchard, first, TODAY - timedelta(days=1))


def test_a_week_that_is_not_whole_in_earlier_years_is_no_mean(young, vera):
    gap = {TODAY - timedelta(days=back) for back in range(8, 12)}
    soak(young.orchard, vera, back=25, skip=gap)
    start = TODAY - timedelta(days=365 + 10)
    add_days(young.orchard, vera, start, 2, low=10.0, high=24.0)
    roots = read_root_water(young.orchard, days_before(young.orchard), today=TODAY)
    methods = {roots.days[on].method for on in gap}
    assert methods == {"estimated: the mean of the days around"}


@pytest.fixture
def nearby(young, vera):
    """A record kept elsewhere."""
    return Station.objects.create(
        orchard=young.orchard, name="Valley", source="its keeper", sort="record",
        made_by=vera, made_at=AFTERNOON,
    )  # fmt: skip


def swinging(on):
    """Return temperatures that go up and down through ten days, °C."""
    return 8.0 + on.toordinal() % 10, 22.0 + on.toordinal() % 10


def add_swinging(station, vera, *, back, skip=(), offset=0.0, swing=1.0, rain=0.0):
    for ago in range(back, 0, -1):
        on = TODAY - timedelta(days=ago)
        if on in skip:
            continue
        low, high = swinging(on)
        low, high = 8.0 + (low - 8.0) * swing, 22.0 + (high - 22.0) * swing
        WeatherDay.objects.create(
            station=station, on=on, tmin=low + offset, tmax=high + offset,
            rain_mm=200.0 if ago == back else rain, by=vera, received_at=AFTERNOON,
        )  # fmt: skip


def own_station(orchard, vera):
    return Station.objects.create(
        orchard=orchard, name="Gate", source="own", sort="own",
        made_by=vera, made_at=AFTERNOON,
    )  # fmt: skip


GAP = {TODAY - timedelta(days=back) for back in range(8, 11)}


def test_a_station_nearby_stands_in_at_the_orchards_own_level_and_is_marked(
    young, vera, nearby
):
    own = own_station(young.orchard, vera)
    add_swinging(own, vera, back=40, skip=GAP)
    add_swinging(nearby, vera, back=40, offset=-2.0, rain=5.0)
    roots = read_root_water(young.orchard, days_before(young.orchard), today=TODAY)
    for on in GAP:
        day = roots.days[on]
        assert day.et0 == pytest.approx(
            weather.hargreaves_et(on, 38.5, *swinging(on)), rel=1e-6
        )
        assert day.is_estimated
        assert day.method == "estimated: from Valley"
        # Rain is never estimated above 0.
        assert (day.rain_mm, day.counted_mm) == (0.0, 0.0)
    assert not roots.days[TODAY - timedelta(days=12)].is_estimated
    assert row_for(young.orchard).is_estimated


def test_rain_of_a_station_nearby_counts_as_none_where_the_own_gauge_failed_for_days(
    young, vera, nearby
):
    own = own_station(young.orchard, vera)
    add_swinging(own, vera, back=40)
    add_swinging(nearby, vera, back=40, offset=-2.0, rain=5.0)
    WeatherDay.objects.filter(station=own, on__in=GAP).update(rain_mm=None)
    roots = read_root_water(young.orchard, days_before(young.orchard), today=TODAY)
    for on in GAP:
        day = roots.days[on]
        assert day.et0 == pytest.approx(
            weather.hargreaves_et(on, 38.5, *swinging(on)), rel=1e-6
        )
        assert (day.rain_mm, day.counted_mm, day.is_estimated) == (0.0, 0.0, True)


def test_where_the_own_station_has_no_gauge_the_other_rain_is_the_record(
    young, vera, nearby
):
    own = own_station(young.orchard, vera)
    add_swinging(own, vera, back=40)
    add_swinging(nearby, vera, back=40, rain=5.0)
    WeatherDay.objects.filter(station=own).update(rain_mm=None)
    roots = read_root_water(young.orchard, days_before(young.orchard), today=TODAY)
    for on in GAP:
        assert (roots.days[on].rain_mm, roots.days[on].is_estimated) == (5.0, False)


def test_a_station_that_does_not_go_along_does_not_stand_in(young, vera, nearby):
    own = own_station(young.orchard, vera)
    add_swinging(own, vera, back=40, skip=GAP)
    add_swinging(nearby, vera, back=40, swing=0.0, offset=3.0)
    roots = read_root_water(young.orchard, days_before(young.orchard), today=TODAY)
    methods = {roots.days[on].method for on in GAP}
    assert methods == {"estimated: a straight line between temperatures"}


def test_a_record_that_goes_on_alone_is_the_orchards_record(young, vera, nearby):
    own = own_station(young.orchard, vera)
    gap = {TODAY - timedelta(days=back) for back in range(1, 20)}
    add_swinging(own, vera, back=60, skip=gap)
    add_swinging(nearby, vera, back=60, offset=-2.0)
    roots = read_root_water(young.orchard, days_before(young.orchard), today=TODAY)
    assert not any(roots.days[on].is_estimated for on in gap)


def test_an_own_station_without_days_leaves_the_records_of_two_others(
    young, vera, nearby
):
    own_station(young.orchard, vera)
    hill = Station.objects.create(
        orchard=young.orchard, name="Hill", source="its keeper", sort="record",
        made_by=vera, made_at=AFTERNOON,
    )  # fmt: skip
    add_swinging(nearby, vera, back=40, skip=GAP)
    add_swinging(hill, vera, back=40)
    roots = read_root_water(young.orchard, days_before(young.orchard), today=TODAY)
    assert not any(roots.days[on].is_estimated for on in GAP)


def test_more_than_a_tenth_estimated_is_a_range(young, vera):
    gap = {TODAY - timedelta(days=back) for back in range(8, 12)}
    soak(young.orchard, vera, back=25, skip=gap)
    row = row_for(young.orchard)
    assert 0.1 < 4 / 24 < 0.2
    assert row.low <= row.litres <= row.high


def test_more_than_a_fifth_estimated_is_not_told(young, vera):
    gap = {TODAY - timedelta(days=back) for back in range(8, 12)}
    soak(young.orchard, vera, back=15, skip=gap)
    row = row_for(young.orchard)
    assert row.call == Call.NO_DATA
    assert "would be estimated" in row.why_not


def test_eleven_missing_days_end_the_balance(young, vera):
    gap = {TODAY - timedelta(days=back) for back in range(3, 14)}
    soak(young.orchard, vera, back=60, skip=gap)
    row = row_for(young.orchard)
    assert row.call == Call.NO_DATA
    assert "No data for" in row.why_not


def test_rain_is_never_estimated(young, vera):
    soak(young.orchard, vera, back=25, rain_mm=None)
    row = row_for(young.orchard)
    assert row.call == Call.NO_DATA


def test_without_a_crown_or_soil_there_is_no_guess(tree, vera):
    soak(tree.orchard, vera, back=5)
    assert "crown width isn't measured" in row_for(tree.orchard).why_not
    water.measure_crown(
        tree, measured_on=JANUARY, width_m=3.0, by=vera, now=AFTERNOON, today=JANUARY
    )
    assert "soil isn't described" in row_for(tree.orchard).why_not


def test_without_a_full_beginning_there_is_no_date(young, vera):
    add_days(young.orchard, vera, TODAY - timedelta(days=40), 40)
    row = row_for(young.orchard)
    assert row.call == Call.NO_DATA
    assert "No start" in row.why_not


def test_trees_alike_stand_together(young, vera):
    other = make_tree(young.orchard, "A-2", planted_on=young.planted_on)
    water.measure_crown(
        other, measured_on=JANUARY, width_m=2.0, by=vera, now=AFTERNOON, today=JANUARY
    )
    soak(young.orchard, vera, back=5)
    [group] = the_schedule(young.orchard).groups
    first, second = group.rows
    assert second.litres == pytest.approx(first.litres * 4 / 9)


def test_the_job_asks_on_the_day_the_page_says_today(young, vera, cora):
    orchard = young.orchard
    CarePlan.objects.create(
        orchard=orchard, job="water_ground", set_by=cora, set_at=AFTERNOON
    )
    soak(orchard, vera, back=40)
    asked_from = None
    for back in range(35, 0, -1):
        day = TODAY - timedelta(days=back)
        schedule = water.water_schedule(orchard, today=day)
        care_plan.open_next(orchard, now=NOW, today=day)
        is_open = Task.objects.open().filter(key="water_ground").exists()
        assert is_open == (schedule.due_today == 1), day
        asked_from = asked_from or (day if is_open else None)
    assert asked_from is not None


def test_skipped_work_does_not_count_as_water_in_the_ground(young, vera, cora):
    orchard = young.orchard
    CarePlan.objects.create(
        orchard=orchard, job="water_ground", set_by=cora, set_at=AFTERNOON
    )
    soak(orchard, vera, back=40)
    two_days_ago = TODAY - timedelta(days=2)
    care_plan.open_next(orchard, now=NOW, today=two_days_ago)
    [task] = Task.objects.open().filter(kind="care", key="water_ground")
    before = row_for(orchard).litres
    tasks.close(
        task, by=cora, now=NOW, today=two_days_ago, how="skipped", reason="no time"
    )
    assert row_for(orchard).litres == pytest.approx(before)
    assert before > 0


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
    water.note_watering(
        [watered], given_on=TODAY, litres=60.0, by=vera, now=NOW, today=TODAY
    )
    assert not Task.objects.open().exists()
    assert Closure.objects.get().evidence


def test_a_watering_withdrawn_leaves_the_ground_as_dry_as_before(young, vera):
    soak(young.orchard, vera, back=20)
    before = row_for(young.orchard).litres
    Task.objects.create(
        orchard=young.orchard,
        tree=young,
        block=young.spot.block,
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
    [row] = water.note_watering(
        [young], given_on=TODAY, litres=60.0, by=vera, now=NOW, today=TODAY
    )
    assert row_for(young.orchard).litres < before
    water.withdraw_measurement(row, by=vera, now=NOW, reason="another tree")
    assert row_for(young.orchard).litres == pytest.approx(before)


def test_each_of_many_trees_gets_its_own_litres(watered, vera):
    beside = make_tree(watered.orchard, "B-2")
    rows = water.note_watering(
        [watered, beside],
        given_on=TODAY,
        litres={watered.pk: 60.0, beside.pk: 20.0},
        by=vera,
        now=NOW,
        today=TODAY,
    )
    assert [(row.tree, row.litres) for row in rows] == [(watered, 60.0), (beside, 20.0)]
    lines = Change.objects.filter(subject_type="watering").order_by("id")
    assert [line.after["litres"] for line in lines] == [60.0, 20.0]


@pytest.fixture
def valve_run(young):
    return Task.objects.create(
        orchard=young.orchard,
        block=young.spot.block,
        rank=2,
        kind="care",
        key="valve_run",
        occurrence="dry",
        title="Run the valves",
        opens_on=TODAY - timedelta(days=5),
        due_on=TODAY,
        rhythm_days=14,
        made_at=AFTERNOON,
    )


def test_a_run_of_the_valves_fills_the_ground_of_trees_on_the_line(
    young, vera, cora, valve_run
):
    by_hand = make_tree(young.orchard, "A-2", planted_on=young.planted_on)
    for tree in (young, by_hand):
        tree.irrigated = tree == young
        tree.save()
    water.measure_crown(
        by_hand, measured_on=JANUARY, width_m=3.0, by=vera, now=AFTERNOON, today=JANUARY
    )
    soak(young.orchard, vera, back=20)
    tasks.close(
        valve_run, by=cora, now=NOW, today=TODAY, done_on=TODAY - timedelta(days=3)
    )
    assert row_for(young.orchard).litres == pytest.approx(used_in(2) * CIRCLE, rel=1e-3)
    assert row_for(young.orchard, "A-2").call == Call.TODAY


def test_litres_given_with_a_closing_count_until_it_is_opened_again(
    young, vera, cora, valve_run
):
    young.irrigated = True
    young.save()
    soak(young.orchard, vera, back=20)
    before = row_for(young.orchard).litres
    closure = water.close_watering(
        valve_run,
        litres=10.0,
        evidence="all drippers ran",
        by=cora,
        now=NOW,
        today=TODAY,
        done_on=TODAY - timedelta(days=3),
    )
    assert closure.evidence == "Watered: 10 L; all drippers ran"
    row = Watering.objects.current().get()
    assert (row.tree, row.litres, row.closure) == (young, 10.0, closure)
    # Where more water is left, a dry tree uses a little more of it.
    assert before - 10.0 <= row_for(young.orchard).litres < before - 8.0

    tasks.reopen(valve_run, by=cora, now=NOW)
    assert not Watering.objects.current().exists()
    assert not Watering.objects.get().is_current
    assert row_for(young.orchard).litres == pytest.approx(before)


@pytest.mark.parametrize("is_withdrawn", [True, False])
def test_litres_of_a_closing_that_were_wrong_do_not_leave_the_ground_full(
    young, vera, cora, valve_run, is_withdrawn
):
    young.irrigated = True
    young.save()
    soak(young.orchard, vera, back=20)
    before = row_for(young.orchard).litres
    given = {"by": cora, "now": NOW, "today": TODAY}
    done_on = TODAY - timedelta(days=3)
    water.close_watering(valve_run, litres=10.0, done_on=done_on, **given)
    row = Watering.objects.get()
    if is_withdrawn:
        water.withdraw_measurement(row, by=cora, now=NOW, reason="another tree")
        expected = before
    else:
        water.correct_measurement(row, given_on=TODAY, reason="it was today", **given)
        expected = before - 10.0
    assert row_for(young.orchard).litres == pytest.approx(expected)


def test_a_tree_planted_after_the_valves_ran_was_not_watered_by_them(
    young, cora, valve_run
):
    young.irrigated = True
    young.save()
    make_tree(young.orchard, "A-9", irrigated=True, planted_on=TODAY)
    water.close_watering(
        valve_run,
        litres=10.0,
        by=cora,
        now=NOW,
        today=TODAY,
        done_on=TODAY - timedelta(days=3),
    )
    assert [row.tree for row in Watering.objects.all()] == [young]


def test_impossible_litres_close_nothing(young, cora, valve_run):
    young.irrigated = True
    young.save()
    with refused("out_of_range"):
        water.close_watering(valve_run, litres=6000.0, by=cora, now=NOW, today=TODAY)
    assert Task.objects.open().get() == valve_run


def test_days_before_any_is_on_record_are_named_and_not_reckoned(young, vera):
    bare = read_root_water(young.orchard, days_before(young.orchard), today=TODAY)
    assert min(bare.days) >= TODAY - timedelta(days=15)
    assert bare.days[TODAY - timedelta(days=1)].why_not == "no data for this day"
    shown = water.water_schedule(young.orchard, today=TODAY).days
    assert shown
    assert not any(day.is_whole for day in shown)

    start = TODAY - timedelta(days=60)
    soak(young.orchard, vera, back=60, skip={start + timedelta(days=2)})
    roots = read_root_water(young.orchard, days_before(young.orchard), today=TODAY)
    before, *rest = roots.days.values()
    assert (before.on, before.why_not) == (
        start - timedelta(days=1),
        "no data for this day",
    )
    assert len(rest) == len(roots.whole) == 60
