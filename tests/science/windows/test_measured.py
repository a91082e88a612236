"""Jobs that weather, soil or fruit start.

The rules are the guide's own care rows; temperatures at which trees are covered are
common practice, no source.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.science import guide, heat, windows
from orchard.science.windows import Done, History, Measurements, measured, triggers

NORTH, SOUTH = 38.5, -34.8
JOBS = guide.load().jobs
WINTER = date(2026, 12, 10)
SUMMER = date(2026, 7, 10)


def ahead(today: date, *values: float) -> tuple[tuple[date, float], ...]:
    """Pair values with today, tomorrow and so on."""
    return tuple((today + timedelta(days=n), value) for n, value in enumerate(values))


def asked(job, measured, history=None, latitude=NORTH):
    trigger = JOBS[job].trigger if isinstance(job, str) else job
    today = measured.today
    return windows.occurrences(
        trigger, history or History(), today, today, latitude, measured
    )


# Frost


def test_a_night_at_the_limit_asks_for_cover_an_hour_before_sunset():
    measured = Measurements(
        WINTER, ahead(WINTER, 5, 1), cover_at_c=1.0, cover_by="16:31"
    )
    (window,) = asked("frost_cover_on", measured)
    assert (window.opens, window.due) == (WINTER, WINTER)
    assert window.by_clock == "16:31"
    assert window.occurrence == "night to 2026-12-11"


def test_a_night_a_hair_above_the_limit_asks_for_nothing():
    measured = Measurements(WINTER, ahead(WINTER, -9, 1.01, -9), cover_at_c=1.0)
    # This dawn's cold is past covering; the night after next is beyond 18 hours.
    assert asked("frost_cover_on", measured) == []


def test_the_watch_begins_a_degree_earlier_and_two_nights_ahead():
    measured = Measurements(WINTER, ahead(WINTER, 9, 9, 2.0), cover_at_c=1.0)
    (window,) = asked("frost_watch", measured)
    assert window.due == WINTER
    assert asked("frost_watch", measured._replace(cover_at_c=0.9)) == []


def test_the_watch_comes_every_day_and_is_done_for_the_day():
    measured = Measurements(WINTER, ahead(WINTER, 9, 0, 0), cover_at_c=1.0)
    done = History(done=(Done(WINTER),))
    assert asked("frost_watch", measured, done) == []
    tomorrow = WINTER + timedelta(days=1)
    next_day = Measurements(tomorrow, measured.minima, cover_at_c=1.0)
    (again,) = asked("frost_watch", next_day, done)
    assert again.occurrence != asked("frost_watch", measured)[0].occurrence


def test_covered_yesterday_is_covered_again_tonight():
    measured = Measurements(WINTER, ahead(WINTER, -1, -1), cover_at_c=1.0)
    yesterday = History(done=(Done(WINTER - timedelta(days=1)),))
    assert len(asked("frost_cover_on", measured, yesterday)) == 1
    tonight = History(done=(Done(WINTER),))
    assert asked("frost_cover_on", measured, tonight) == []


def test_without_forecast_or_limit_nothing_is_asked():
    assert asked("frost_cover_on", Measurements(WINTER, cover_at_c=1.0)) == []
    assert asked("frost_cover_on", Measurements(WINTER, ahead(WINTER, 0, 0))) == []


@pytest.mark.parametrize(
    ("today", "latitude", "count"),
    [
        (date(2026, 12, 10), NORTH, 1),
        (date(2026, 7, 10), NORTH, 0),
        (date(2026, 7, 10), SOUTH, 1),
        (date(2026, 12, 10), SOUTH, 0),
    ],
)
def test_frost_jobs_keep_to_their_season_on_both_sides(today, latitude, count):
    measured = Measurements(today, ahead(today, 0, 0), cover_at_c=1.0)
    assert len(asked("frost_cover_on", measured, latitude=latitude)) == count


def test_covers_come_off_the_morning_after_by_ten():
    covered = History(events=(("frost_cover_on", WINTER),))
    morning = WINTER + timedelta(days=1)
    (window,) = windows.occurrences(
        JOBS["frost_cover_off"].trigger, covered, morning, morning, NORTH
    )
    assert window.due == morning
    assert window.by_clock == "10:00"


# Heat


def test_two_hot_days_in_a_row_ask_for_preparation_the_day_before():
    measured = Measurements(SUMMER, maxima=ahead(SUMMER, 30, 30, 38, 39))
    (window,) = asked("heat_prep", measured)
    assert (window.opens, window.due) == (SUMMER, SUMMER + timedelta(days=1))


@pytest.mark.parametrize(
    "highs", [(38, 30, 38, 30), (30, 30, 30, 38), (37.9, 37.9, 37.9, 37.9), ()]
)
def test_single_hot_days_and_warm_ones_ask_for_nothing(highs):
    measured = Measurements(SUMMER, maxima=ahead(SUMMER, *highs))
    assert asked("heat_prep", measured) == []


def test_what_was_prepared_this_week_is_not_asked_for_again():
    measured = Measurements(SUMMER, maxima=ahead(SUMMER, 39, 39, 39))
    for days, count in ((1, 0), (7, 0), (8, 1)):
        done = History(done=(Done(SUMMER - timedelta(days=days)),))
        assert len(asked("heat_prep", measured, done)) == count


def test_a_sum_of_heat_is_reached_on_the_day_the_running_sum_says():
    # Thirty days of 8 to 28 °C; the day itself by the same law as in test_heat.
    start = date(2026, 4, 1)
    days = tuple((start + timedelta(days=n), 8.0, 28.0) for n in range(30))
    trigger = windows.read_trigger(
        {"kind": "heat_units", "base_c": 13, "cap_c": 35, "sum": 60, "from_bbch": 65}
    )
    measured = Measurements(date(2026, 4, 30), days=days)
    daily = heat.degree_days(8, 28, 13, 35)
    expected = start + timedelta(days=-(-60 // daily) - 1)
    bloomed = History(stages=((65, start),))
    (window,) = asked(trigger, measured, bloomed)
    assert window.opens == expected
    assert asked(trigger, measured) == []
    late = measured._replace(days=days[1:])
    assert asked(trigger, late, bloomed) == [], "a gap at bloom makes the sum unknown"


# Water and soil


def test_pots_are_watered_daily_in_heat_and_when_found_dry():
    hot = Measurements(SUMMER, maxima=ahead(SUMMER, 35, 20))
    (window,) = asked("water_pot", hot)
    assert (window.due, window.rhythm_days) == (SUMMER, 1)
    done = History(done=(Done(SUMMER),))
    assert asked("water_pot", hot, done) == []
    mild = Measurements(SUMMER, maxima=ahead(SUMMER, 34.9))
    assert asked("water_pot", mild) == []
    dry = mild._replace(soil_dry=(SUMMER, 5.0))
    (found,) = asked("water_pot", dry)
    assert found.due == SUMMER + timedelta(days=1)
    assert asked("water_pot", dry, done) == []


def test_a_pot_is_watered_at_four_fifths_of_its_ready_water_at_any_time_of_year():
    # The share is common practice, no source.
    for today in (SUMMER, WINTER):
        since = today - timedelta(days=2)
        dry = Measurements(today, depleted=(since, 0.8))
        (found,) = asked("water_pot", dry)
        assert found.due == today + timedelta(days=1)
        assert found.rhythm_days == 1
        assert asked("water_pot", dry._replace(depleted=(since, 0.79))) == []
        watered = History(done=(Done(today),))
        assert asked("water_pot", dry, watered) == []


def test_ground_is_watered_at_seven_tenths_of_its_ready_water_and_in_season():
    since = SUMMER - timedelta(days=9)
    dry = Measurements(SUMMER, depleted=(since, 0.7))
    (window,) = asked("water_ground", dry)
    assert window.due == SUMMER + timedelta(days=3)
    assert asked("water_ground", Measurements(SUMMER, depleted=(since, 0.69))) == []
    assert asked("water_ground", Measurements(SUMMER)) == []
    winter = Measurements(WINTER, depleted=(since, 0.9))
    assert asked("water_ground", winter) == []


def test_soil_below_the_shoulders_is_topped_up_once():
    trigger = windows.read_trigger({"kind": "soil_level", "below_shoulder_cm": 1})
    measured = Measurements(SUMMER, below_shoulder=(SUMMER, 1.5))
    assert len(asked(trigger, measured)) == 1
    done = History(done=(Done(SUMMER),))
    assert asked(trigger, measured, done) == []
    shallow = Measurements(SUMMER, below_shoulder=(SUMMER, 0.5))
    assert asked(trigger, shallow) == []


# Fruit


def test_fruit_is_tested_from_three_weeks_before_it_is_ripe_every_fortnight():
    ripe = (("Washington navel", date(2026, 12, 1), date(2027, 3, 31)),)
    before = Measurements(date(2026, 11, 9), ripe=ripe)
    assert asked("maturity", before) == []
    first_day = Measurements(date(2026, 11, 10), ripe=ripe)
    (window,) = asked("maturity", first_day)
    assert (window.opens, window.rhythm_days) == (date(2026, 11, 10), 14)
    tested = History(done=(Done(date(2026, 11, 12)),))
    later = Measurements(date(2026, 11, 25), ripe=ripe)
    (again,) = asked("maturity", later, tested)
    assert again.due == date(2026, 11, 26)
    over = Measurements(date(2027, 4, 1), ripe=ripe)
    assert asked("maturity", over, tested) == []


def test_ripe_fruit_is_picked_unless_something_holds_it():
    last = WINTER + timedelta(weeks=16)
    ready = Measurements(WINTER, ready=(("Valencia", WINTER, last),), holds_clear=True)
    (window,) = asked("harvest", ready)
    # Due when its time on the tree is over, not a fortnight after the test.
    assert (window.opens, window.due) == (WINTER, last)
    for held in (False, None):
        assert asked("harvest", ready._replace(holds_clear=held)) == []
    assert asked("harvest", ready, History(done=(Done(WINTER),))) == []


# All of them


@pytest.mark.parametrize("latitude", [NORTH, SOUTH, 0.0, 70.0, -70.0])
@pytest.mark.parametrize(
    "key", [key for key, job in JOBS.items() if windows.needs_measurement(job.trigger)]
)
def test_every_measured_job_opens_sound_windows_once_it_is_measured(key, latitude):
    found = 0
    for day in range(0, 366, 5):
        today = date(2026, 1, 1) + timedelta(days=day)
        measured = Measurements(
            today,
            minima=ahead(today, -3, -3, -3),
            maxima=ahead(today, 41, 41, 41),
            cover_at_c=1.0,
            soil_dry=(today, 5.0),
            depleted=(today - timedelta(days=9), 0.8),
            below_shoulder=(today, 3.0),
            ripe=(("Valencia", today, today + timedelta(days=60)),),
            ready=(("Valencia", today, today),) if key == "harvest" else (),
            holds_clear=True,
        )
        assert (
            windows.occurrences(JOBS[key].trigger, History(), today, today, latitude)
            == []
        ), "nothing is guessed without measurements"
        for window in asked(key, measured, latitude=latitude):
            found += 1
            assert window.opens <= window.due
            assert window.opens <= today
            assert window.rhythm_days >= 1
            assert len(window.occurrence) <= 38
    assert found


def test_every_kind_of_measured_trigger_has_its_settings_and_its_rule():
    assert set(triggers.MEASURED_KINDS) == set(triggers._SETTINGS)
    assert set(triggers.MEASURED_KINDS) == set(measured._FINDERS)
