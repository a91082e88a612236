"""Seasons, windows and lateness.

Seasons are the three-month groups that the World Meteorological Organization uses
(from memory): spring is March to May in the north, September to November in the south.
What follows from an interval or an event is calendar arithmetic, worked by hand.
"""

from __future__ import annotations

from calendar import isleap
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import guide, windows
from orchard.science.windows import Done, History, Measurements, Window
from orchard.science.words import NotWhile, Season

NORTH, SOUTH = 33.0, -33.0
LATITUDES = (NORTH, SOUTH)
DAYS = st.dates(date(2020, 1, 1), date(2040, 12, 31))


def windows_of(row, history=None, start=date(2026, 1, 1), end=None, latitude=NORTH):
    trigger = windows.read_trigger(row)
    return windows.occurrences(
        trigger, history or History(), start, end or start, latitude
    )


# Seasons

MONTHS_OF_SEASONS = {
    Season.SPRING: ((3, 4, 5), (9, 10, 11)),
    Season.SUMMER: ((6, 7, 8), (12, 1, 2)),
    Season.AUTUMN: ((9, 10, 11), (3, 4, 5)),
    Season.WINTER: ((12, 1, 2), (6, 7, 8)),
}


@pytest.mark.parametrize("season", Season, ids=str)
def test_seasons_are_three_months_each_and_six_months_apart(season):
    for latitude, months in zip(LATITUDES, MONTHS_OF_SEASONS[season], strict=True):
        for month in months:
            assert windows.season(date(2026, month, 1), latitude) is season
            assert windows.season(date(2026, month, 28), latitude) is season


def test_the_first_month_of_spring_is_season_month_one():
    assert windows.season_month(date(2026, 3, 1), NORTH) == 1
    assert windows.season_month(date(2026, 2, 28), NORTH) == 12
    assert windows.season_month(date(2026, 9, 1), SOUTH) == 1
    assert windows.season_month(date(2028, 2, 29), SOUTH) == 6


@given(DAYS)
def test_season_months_are_six_apart_across_the_equator(day):
    north, south = (windows.season_month(day, latitude) for latitude in LATITUDES)
    assert (north - south) % 12 == 6
    assert windows.season(day, NORTH) is not windows.season(day, SOUTH)


def test_the_equator_counts_as_north():
    assert windows.season_month(date(2026, 3, 1), 0.0) == 1
    assert windows.season_month(date(2026, 3, 1), -0.001) == 7


@pytest.mark.parametrize("latitude", [float("nan"), float("inf"), 90.5, -91])
def test_a_latitude_that_is_none_is_refused(latitude):
    with pytest.raises(ValueError, match="latitude"):
        windows.season_month(date(2026, 3, 1), latitude)


def test_a_season_year_is_named_by_the_year_of_its_first_spring_month():
    assert windows.season_year(date(2026, 2, 28), NORTH) == 2025
    assert windows.season_year(date(2026, 3, 1), NORTH) == 2026
    assert windows.season_year(date(2026, 8, 31), SOUTH) == 2025
    assert windows.season_year(date(2026, 9, 1), SOUTH) == 2026


# Spans of the season year


@pytest.mark.parametrize(
    "code", ["SM13-01..SM1-01", "SM1-32..SM2-01", "SM0-10..SM1-10", "Mar 1", "SM1..SM2"]
)
def test_a_span_that_names_no_day_is_refused(code):
    with pytest.raises(ValueError, match="SM|Mar"):
        windows.read_spans(code)


def test_any_time_of_year_is_no_span():
    assert windows.read_spans("any") == ()


@given(st.integers(1, 12), st.integers(1, 31), st.integers(1, 12), st.integers(1, 31))
def test_a_span_reads_back_as_it_is_written(first, first_day, last, last_day):
    code = f"SM{first}-{first_day:02}..SM{last}-{last_day:02}"
    assert windows.read_spans(code)[0].code == code


@given(
    DAYS,
    st.sampled_from(LATITUDES),
    st.integers(1, 12),
    st.integers(1, 28),
    st.integers(1, 12),
    st.integers(1, 28),
)
def test_a_day_lies_in_a_span_exactly_when_its_season_day_does(
    day, latitude, first, first_day, last, last_day
):
    """Held against plain comparison of (season month, day), wrapping at the end."""
    here = (windows.season_month(day, latitude), day.day)
    start, end = (first, first_day), (last, last_day)
    inside = start <= here <= end if start <= end else here >= start or here <= end
    [span] = windows.read_spans(f"SM{first}-{first_day}..SM{last}-{last_day}")
    year = windows.season_year(day, latitude)
    found = [span.dates(begun, latitude) for begun in (year - 1, year)]
    assert any(opens <= day <= closes for opens, closes in found) is inside


@pytest.mark.parametrize("year", range(2024, 2034))
def test_a_day_beyond_the_end_of_a_month_is_its_last_day(year):
    last = date(year, 2, 29 if isleap(year) else 28)
    assert windows.day_in_season(year - 1, 12, 31, NORTH) == last
    assert windows.day_in_season(year - 1, 6, 31, SOUTH) == last


# Calendar jobs


def test_a_calendar_job_is_there_from_its_first_to_its_last_day_only():
    row = {"kind": "calendar", "spans": "SM3-15..SM4-30"}
    for day, count in [
        (date(2026, 5, 14), 0),
        (date(2026, 5, 15), 1),
        (date(2026, 6, 30), 1),
        (date(2026, 7, 1), 0),
    ]:
        assert len(windows_of(row, start=day)) == count


def test_done_inside_the_window_closes_that_season_year_only():
    row = {"kind": "calendar", "spans": "SM8-15..SM2-15"}
    history = History(done=(Done(date(2025, 11, 2)),))
    found = windows_of(row, history, date(2025, 10, 1), date(2027, 1, 1))
    assert [window.occurrence for window in found] == ["2026"]


def test_done_by_name_closes_its_own_window_even_when_late():
    row = {"kind": "calendar", "spans": "SM3-01..SM4-15"}
    history = History(done=(Done(date(2026, 5, 20), "2025"),))
    found = windows_of(row, history, date(2025, 5, 1), date(2026, 6, 1))
    assert [window.occurrence for window in found] == ["2026"]


def test_this_years_work_does_not_make_good_what_was_missed_last_year():
    """This year's work does not make good what was missed last year."""
    row = {"kind": "calendar", "spans": "SM3-01..SM4-15"}
    history = History(done=(Done(date(2026, 5, 20)),))
    found = windows_of(row, history, date(2025, 5, 1), date(2026, 6, 1))
    assert [window.occurrence for window in found] == ["2025"]


def test_two_spans_a_year_are_two_windows_with_their_own_names():
    row = {"kind": "calendar", "spans": "SM3-15..SM4-15 & SM9-15..SM10-15"}
    found = windows_of(row, start=date(2026, 3, 1), end=date(2027, 2, 28))
    assert [(window.occurrence, window.due) for window in found] == [
        ("2026/1", date(2026, 6, 15)),
        ("2026/2", date(2026, 12, 15)),
    ]


def test_a_job_of_every_900_days_skips_the_seasons_in_between():
    row = {"kind": "calendar", "spans": "SM12-15..SM2-15", "every_days": 900}
    history = History(done=(Done(date(2025, 3, 1)),))
    found = windows_of(row, history, date(2025, 3, 2), date(2028, 12, 31))
    # 1 March 2025 + 900 days = 18 August 2027, so the spring after.
    assert [window.opens for window in found] == [date(2028, 2, 15)]


# Intervals


def test_an_interval_counts_from_the_last_time():
    history = History(done=(Done(date(2026, 4, 1)), Done(date(2026, 5, 1))))
    row = {"kind": "interval", "days": 60}
    assert windows_of(row, history, date(2026, 6, 14)) == []
    assert windows_of(row, history, date(2026, 6, 15)) == [
        Window(date(2026, 6, 15), date(2026, 6, 30), 60, "after 2026-05-01")
    ]


def test_two_times_on_one_day_do_not_give_two_windows_one_name():
    once = History(done=(Done(date(2026, 5, 1)),))
    twice = History(done=(Done(date(2026, 5, 1)), Done(date(2026, 5, 1))))
    row = {"kind": "interval", "days": 7}
    [first], [second] = (
        windows_of(row, history, date(2026, 5, 8)) for history in (once, twice)
    )
    assert first.due == second.due
    assert first.occurrence != second.occurrence


def test_an_interval_is_never_given_up_however_late():
    history = History(done=(Done(date(2024, 1, 1)),))
    found = windows_of({"kind": "interval", "days": 30}, history, date(2026, 1, 1))
    assert found[0].due == date(2024, 1, 31)
    assert found[0].occurrence == "after 2024-01-01"


def test_a_winter_interval_is_longer():
    row = {"kind": "interval", "days": 30, "winter_days": 60}
    summer = windows_of(row, History(done=(Done(date(2026, 6, 1)),)), date(2026, 6, 30))
    winter = windows_of(row, History(done=(Done(date(2026, 12, 5)),)), date(2027, 2, 1))
    assert summer[0].due == date(2026, 7, 1)
    assert winter[0].due == date(2027, 2, 3)


def test_a_job_never_done_is_due_after_planting_or_at_once():
    row = {"kind": "interval", "days": 30}
    planted = History(planted_on=date(2025, 12, 20))
    assert windows_of(row, planted, date(2026, 1, 15))[0].due == date(2026, 1, 19)
    assert windows_of(row, start=date(2026, 1, 15))[0].due == date(2026, 1, 15)
    old = History(planted_on=date(2015, 1, 1))
    assert windows_of(row, old, date(2026, 1, 15))[0].due == date(2026, 1, 15)


def test_an_interval_inside_a_span_rests_until_the_span_opens_again():
    row = {"kind": "interval", "days": 14, "spans": "SM2-01..SM8-30"}
    history = History(done=(Done(date(2025, 10, 28)),))
    assert windows_of(row, history, date(2025, 12, 1)) == []
    [first, *_] = windows_of(row, history, date(2026, 4, 1))
    assert (first.opens, first.due) == (date(2026, 4, 1), date(2026, 4, 15))


def test_a_standing_fact_of_the_orchard_shortens_an_interval():
    row = {"kind": "interval", "days": 7, "sooner": {"fruit_fly_area": 3}}
    done = (Done(date(2026, 1, 1)),)
    here = History(done=done, flags=frozenset({"fruit_fly_area"}))
    assert windows_of(row, History(done=done), date(2026, 1, 8))[0].due.day == 8
    assert windows_of(row, here, date(2026, 1, 8))[0].due.day == 4


# After an event


FROST = (("frost_night", date(2026, 1, 4)),)


def test_days_after_an_event_are_windows_of_their_own():
    row = {"kind": "after_event", "event": "frost_night", "days": [3, 14, 42]}
    found = windows_of(row, History(events=FROST), date(2026, 1, 1), date(2026, 3, 1))
    assert [window.due for window in found] == [
        date(2026, 1, 7),
        date(2026, 1, 18),
        date(2026, 2, 15),
    ]
    assert [window.rhythm_days for window in found] == [3, 11, 28]


def test_a_look_after_an_event_closes_the_window_that_was_open():
    row = {"kind": "after_event", "event": "frost_night", "days": [3, 14, 42]}
    history = History(events=FROST, done=(Done(date(2026, 1, 8)),))
    found = windows_of(row, history, date(2026, 1, 1), date(2026, 3, 1))
    assert [window.due for window in found] == [date(2026, 1, 18), date(2026, 2, 15)]


def test_an_event_that_has_not_happened_opens_nothing():
    row = {"kind": "after_event", "event": "frost_night", "days": [3]}
    assert windows_of(row) == []


def test_soil_is_looked_at_after_planting_and_then_every_half_year():
    row = {
        "kind": "after_event",
        "event": "planted",
        "days": [14, 30, 90],
        "then_every": 180,
        "until_days": 730,
    }
    history = History(planted_on=date(2026, 1, 1))
    found = windows_of(row, history, date(2026, 1, 1), date(2029, 1, 1))
    after = [(window.due - date(2026, 1, 1)).days for window in found]
    assert after == [14, 30, 90, 270, 450, 630]


def test_new_trees_are_watered_every_third_day_and_weekly_after_two_months():
    row = {
        "kind": "after_event",
        "event": "planted",
        "every": 3,
        "change_after": 60,
        "then_every": 7,
        "until_days": 180,
    }
    planted = date(2026, 1, 1)
    history = History(planted_on=planted)
    found = windows_of(row, history, planted, date(2027, 1, 1))
    after = [(window.due - planted).days for window in found]
    assert after[:20] == list(range(3, 61, 3))
    assert after[20:] == list(range(67, 181, 7))
    done = History(planted_on=planted, done=(Done(date(2026, 1, 5)),))
    assert windows_of(row, done, date(2026, 1, 8))[0].due == date(2026, 1, 8)


def test_fruit_comes_off_in_each_season_for_two_years_after_planting():
    row = {
        "kind": "after_event",
        "event": "planted",
        "spans": "SM2-15..SM4-30",
        "until_days": 730,
    }
    history = History(planted_on=date(2026, 5, 1))
    found = windows_of(row, history, date(2026, 1, 1), date(2030, 1, 1))
    assert [(window.opens, window.due) for window in found] == [
        (date(2026, 5, 1), date(2026, 6, 30)),
        (date(2027, 4, 15), date(2027, 6, 30)),
        (date(2028, 4, 15), date(2028, 4, 30)),
    ]


def test_an_observation_opens_at_once_and_is_due_in_its_days():
    row = {"kind": "observation", "name": "sign:ants_trunk", "within_days": 7}
    history = History(events=(("sign:ants_trunk", date(2026, 1, 2)),))
    [found] = windows_of(row, history, date(2026, 1, 2))
    assert (found.opens, found.due) == (date(2026, 1, 2), date(2026, 1, 9))


def test_a_time_of_day_travels_with_its_window():
    row = {
        "kind": "after_event",
        "event": "frost_cover_on",
        "days": [1],
        "by_clock": "10:00",
    }
    history = History(events=(("frost_cover_on", date(2026, 1, 4)),))
    [found] = windows_of(row, history, date(2026, 1, 5))
    assert (found.due, found.by_clock) == (date(2026, 1, 5), "10:00")


# Growth stages (BBCH: Agusti et al. 1997; 10 to 19 is leaf growth, 69 bloom over)


def test_a_flush_is_scouted_weekly_until_another_stage_is_logged():
    row = {"kind": "stage", "low": 10, "high": 19, "every_days": 7}
    stages = ((9, date(2026, 3, 1)), (11, date(2026, 3, 8)), (31, date(2026, 3, 25)))
    found = windows_of(row, History(stages=stages), date(2026, 3, 1), date(2026, 5, 1))
    assert [window.due for window in found] == [
        date(2026, 3, 15),
        date(2026, 3, 22),
        date(2026, 3, 25),
    ]


def test_a_flush_nobody_logged_the_end_of_stops_after_six_weeks():
    row = {"kind": "stage", "low": 10, "high": 19, "every_days": 7, "max_weeks": 6}
    history = History(stages=((11, date(2026, 3, 8)),))
    found = windows_of(row, history, date(2026, 3, 1), date(2026, 12, 1))
    assert len(found) == 6
    assert found[-1].due == date(2026, 4, 19)


def test_a_stage_whose_job_says_no_more_is_due_and_over_by_the_figures(set_figure):
    # Common practice, no source: 14 days to do it in, six weeks at most.
    once = {"kind": "stage", "low": 10, "high": 19}
    weekly = once | {"every_days": 7}
    first = date(2026, 3, 8)
    history, year = (
        History(stages=((11, first),)),
        (date(2026, 3, 1), date(2026, 12, 1)),
    )
    assert windows_of(once, history, *year)[0].due == first + timedelta(days=14)
    assert windows_of(weekly, history, *year)[-1].due == first + timedelta(weeks=6)
    assert windows.counted_back(windows.read_trigger(once)) == timedelta(days=14)
    set_figure(stage_due_days=10, stage_longest_days=14)
    assert windows_of(once, history, *year)[0].due == first + timedelta(days=10)
    assert windows_of(weekly, history, *year)[-1].due == first + timedelta(weeks=2)
    assert windows.counted_back(windows.read_trigger(once)) == timedelta(days=10)
    named = once | {"within_days": 21}
    assert windows_of(named, history, *year)[0].due == first + timedelta(days=21)


def test_a_feed_waits_for_its_stage_but_never_beyond_its_span():
    row = {"kind": "stage", "low": 69, "high": 72, "spans": "SM2-15..SM4-01"}
    logged = History(stages=((65, date(2026, 4, 20)), (69, date(2026, 5, 3))))
    [seen] = windows_of(row, logged, date(2026, 4, 1), date(2026, 6, 1))
    [unseen] = windows_of(row, None, date(2026, 4, 1), date(2026, 6, 1))
    assert (seen.opens, seen.due) == (date(2026, 5, 3), date(2026, 6, 1))
    assert (unseen.opens, unseen.due) == (date(2026, 4, 15), date(2026, 6, 1))


# Joined triggers


WHITEWASH = {
    "kind": "any",
    "of": [
        {"kind": "interval", "days": 365, "spans": "SM1-15..SM3-15"},
        {"kind": "after_event", "event": "bark_bared", "days": [7], "lead_days": 7},
    ],
}


def test_either_trigger_starts_a_joined_job_and_doing_it_serves_both():
    bared = (("bark_bared", date(2026, 7, 1)),)
    history = History(events=bared, done=(Done(date(2025, 4, 1)),))
    found = windows_of(WHITEWASH, history, date(2026, 7, 2))
    assert [window.due for window in found] == [date(2026, 4, 1), date(2026, 7, 8)]
    named = Done(date(2026, 7, 3), "1:bark_bared 2026-07-01 +7")
    later = History(events=bared, done=(Done(date(2025, 4, 1)), named))
    assert windows_of(WHITEWASH, later, date(2026, 7, 4)) == []


def test_all_triggers_must_have_opened():
    row = {
        "kind": "all",
        "of": [
            {"kind": "calendar", "spans": "SM1-15..SM3-01"},
            {"kind": "after_event", "event": "harvest_done", "days": [60],
             "lead_days": 60},
        ],
    }  # fmt: skip
    start, end = date(2026, 3, 1), date(2026, 5, 1)
    assert windows_of(row, None, start, end) == []
    picked = History(events=(("harvest_done", date(2026, 4, 2)),))
    [found] = windows_of(row, picked, start, end)
    assert (found.opens, found.due) == (date(2026, 4, 2), date(2026, 5, 1))


# What is measured


@pytest.mark.parametrize(
    "row",
    [
        {"kind": "forecast_min", "at_or_below_c": 0, "ahead_h": 48},
        {"kind": "forecast_max", "at_or_above_c": 38, "days": 2, "ahead_h": 72},
        {"kind": "heat_units", "base_c": 13, "cap_c": 35, "sum": 900},
        {"kind": "soil_moisture", "dry_at_cm": 5},
        {"kind": "water_balance", "depleted_share": 0.5},
        {"kind": "soil_level", "below_shoulder_cm": 1},
        {"kind": "maturity", "ready": True},
    ],
    ids=lambda row: row["kind"],
)
def test_a_measured_trigger_is_read_but_gives_no_dates(row):
    trigger = windows.read_trigger(row)
    assert windows.needs_measurement(trigger)
    assert windows_of(row, None, date(2026, 1, 1), date(2030, 1, 1)) == []
    first = next(key for key in row if key != "kind")
    assert trigger.setting(first) == row[first]


@pytest.mark.parametrize(
    ("row", "fault"),
    [
        ({"kind": "moon"}, "moon"),
        ({"kind": "calendar"}, "spans"),
        (
            {"kind": "calendar", "spans": "SM1-01..SM2-01", "every_days": 0},
            "every_days",
        ),
        ({"kind": "interval"}, "days"),
        ({"kind": "interval", "days": 0}, "days"),
        ({"kind": "interval", "days": 7, "weeks": 1}, "weeks"),
        ({"kind": "interval", "days": True}, "days"),
        ({"kind": "after_event", "days": [1]}, "event"),
        ({"kind": "after_event", "event": "frost_night"}, "days, every or spans"),
        ({"kind": "stage", "low": 19, "high": 10}, "19 to 10"),
        ({"kind": "any", "of": [{"kind": "interval", "days": 7}]}, "two"),
        ({"kind": "forecast_min", "warmth": 3}, "warmth"),
        ({"kind": "forecast_min"}, "needs one of"),
        ({"kind": "maturity", "ready": 1}, "ready"),
    ],
)
def test_a_trigger_that_says_nothing_is_refused_with_a_sentence(row, fault):
    with pytest.raises(ValueError, match=fault):
        windows.read_trigger(row)


def test_an_end_before_the_start_is_refused():
    with pytest.raises(ValueError, match="before start"):
        windows_of({"kind": "interval", "days": 7}, end=date(2025, 1, 1))


# Lateness


def window(due, rhythm):
    return Window(due, due, rhythm, "x")


def test_three_days_late_on_a_weekly_job_outranks_three_days_on_a_yearly_one():
    due, today = date(2026, 5, 1), date(2026, 5, 4)
    weekly = windows.lateness(window(due, 7), today)
    yearly = windows.lateness(window(due, 365), today)
    assert weekly == pytest.approx(3 / 7)
    assert yearly == pytest.approx(3 / 365)
    assert weekly > yearly


@given(DAYS, st.integers(-400, 400), st.integers(1, 900))
def test_nothing_is_late_on_its_due_day_and_lateness_grows_by_the_day(due, off, rhythm):
    today = due + timedelta(days=off)
    late = windows.lateness(window(due, rhythm), today)
    assert (late > 0) is (off > 0)
    next_day = windows.lateness(window(due, rhythm), today + timedelta(days=1))
    assert next_day >= late


def test_a_rhythm_of_no_days_is_refused():
    with pytest.raises(ValueError, match="rhythm_days"):
        windows.lateness(window(date(2026, 1, 1), 0), date(2026, 1, 2))
    with pytest.raises(ValueError, match="rhythm_days"):
        windows.days_early(0)


def test_what_comes_round_may_be_done_a_quarter_of_its_interval_early(set_figure):
    # Common practice, no source.
    early = [windows.days_early(days) for days in (1, 3, 4, 7, 30, 365)]
    assert early == [0, 0, 1, 1, 7, 91]
    row = {"kind": "interval", "days": 28}
    history = History(done=(Done(date(2026, 5, 1), ""),))
    [found] = windows_of(row, history, date(2026, 5, 1), date(2026, 5, 29))
    assert (found.opens, found.due) == (date(2026, 5, 22), date(2026, 5, 29))
    set_figure(early_share=0.5)
    [found] = windows_of(row, history, date(2026, 5, 1), date(2026, 5, 29))
    assert (found.opens, found.due) == (date(2026, 5, 15), date(2026, 5, 29))


def test_a_job_waits_for_what_it_names_and_nothing_else():
    reasons = (NotWhile.FROST, NotWhile.BLOOM)
    assert windows.waits(reasons, frost=True, heat=True, hold=True) == (
        "Wait until the last frost is past and new growth shows.",
    )
    assert windows.waits(reasons, heat=True, hold=True) == ()
    # BBCH 60 to 69 is flowering (Agusti et al. 1997).
    in_bloom = [stage for stage in range(100) if windows.waits(reasons, bbch=stage)]
    assert in_bloom == list(range(60, 70))


# The guide's own care jobs

LONG_HISTORY = History(
    events=(
        ("frost_night", date(2025, 12, 20)),
        ("hard_frost", date(2026, 1, 10)),
        ("frost_cover_on", date(2026, 1, 9)),
        ("bark_bared", date(2026, 6, 1)),
        ("potted", date(2025, 11, 1)),
        ("rain_25mm", date(2026, 2, 2)),
        ("application", date(2026, 4, 4)),
        ("harvest_done", date(2026, 3, 1)),
        ("harvest_done", date(2025, 9, 1)),
        ("sign:ants_trunk", date(2026, 5, 5)),
        ("before_frost_season", date(2025, 11, 1)),
    ),
    stages=(
        (11, date(2026, 3, 8)),
        (60, date(2026, 4, 1)),
        (69, date(2026, 5, 1)),
        (19, date(2026, 9, 8)),
        (60, date(2026, 10, 1)),
        (69, date(2026, 10, 30)),
        (81, date(2026, 12, 1)),
        (89, date(2027, 1, 1)),
    ),
    planted_on=date(2025, 11, 15),
)
JOBS = guide.load().jobs


@pytest.mark.parametrize("latitude", LATITUDES)
@pytest.mark.parametrize("key", JOBS)
def test_every_care_job_gives_sound_windows_or_waits_for_weather(key, latitude):
    trigger = JOBS[key].trigger
    start, end = date(2025, 11, 15), date(2029, 11, 15)
    found = windows.occurrences(trigger, LONG_HISTORY, start, end, latitude)
    assert found or windows.needs_measurement(trigger)
    assert len({one.occurrence for one in found}) == len(found)
    for one in found:
        assert one.opens <= one.due
        assert one.opens <= end
        assert one.rhythm_days >= 1


@pytest.mark.parametrize("key", JOBS)
def test_a_care_job_by_the_calendar_is_half_a_year_apart_across_the_equator(key):
    trigger = JOBS[key].trigger
    if not isinstance(trigger, windows.Calendar):
        return
    for span in trigger.spans:
        north, _ = span.dates(2026, NORTH)
        south, _ = span.dates(2026, SOUTH)
        assert (south.month - north.month) % 12 == 6


@given(
    st.sampled_from(sorted(JOBS)),
    st.sampled_from(LATITUDES),
    st.integers(0, 300),
    st.integers(0, 60),
)
def test_a_window_keeps_its_name_whenever_it_is_asked_for(key, latitude, skip, length):
    """A calendar, event or stage window is the same from any range that shows it."""
    trigger = JOBS[key].trigger
    if isinstance(trigger, windows.Interval | windows.AllOf | windows.AnyOf):
        return
    start = date(2025, 11, 15)
    whole = windows.occurrences(
        trigger, LONG_HISTORY, start, date(2027, 11, 15), latitude
    )
    first = start + timedelta(days=skip)
    last = first + timedelta(days=length)
    part = windows.occurrences(trigger, LONG_HISTORY, first, last, latitude)
    assert set(part) <= set(whole)


@given(
    st.sampled_from(sorted(JOBS)),
    st.sampled_from(LATITUDES),
    st.integers(0, 400),
)
def test_what_was_done_by_name_does_not_come_back(key, latitude, skip):
    start = date(2025, 11, 15) + timedelta(days=skip)
    trigger = JOBS[key].trigger
    end = start + timedelta(days=90)
    found = windows.occurrences(trigger, LONG_HISTORY, start, end, latitude)
    if not found:
        return
    done = Done(max(start, found[0].opens), found[0].occurrence)
    after = History(
        done=(done,),
        events=LONG_HISTORY.events,
        stages=LONG_HISTORY.stages,
        planted_on=LONG_HISTORY.planted_on,
    )
    again = windows.occurrences(trigger, after, start, end, latitude)
    assert found[0].occurrence not in {one.occurrence for one in again}


TRIGGERS = {key: job.trigger for key, job in JOBS.items()} | {
    "a stage": windows.AtStage(10, 19),
    "a sign": windows.Observed("sign:aphids", 9),
}
COUNTED = [key for key in TRIGGERS if windows.counted_back(TRIGGERS[key])]
FROM_LAST = [key for key in TRIGGERS if windows.counts_from_last(TRIGGERS[key])]
FAR = (date(2022, 1, 1), date(2028, 1, 1))


def events_of(trigger):
    """Let each event that a trigger follows happen three times, and then often."""
    days = [FAR[0] + timedelta(days=n) for n in (100, 101, 160, 500, 900, 1400, 1500)]
    return tuple(
        (part.event if isinstance(part, windows.AfterEvent) else part.name, day)
        for part in parts_of(trigger)
        if isinstance(part, windows.AfterEvent | windows.Observed)
        for day in days
    )


@pytest.mark.parametrize("latitude", LATITUDES)
@pytest.mark.parametrize("key", COUNTED)
def test_older_turns_than_are_counted_back_change_nothing(key, latitude):
    """Done as early as can be, and asked about as late as it shows."""
    trigger = TRIGGERS[key]
    span = windows.counted_back(trigger)
    stages = tuple(
        (part.low, FAR[0] + timedelta(days=n))
        for part in parts_of(trigger)
        if isinstance(part, windows.AtStage)
        for n in (150, 520, 880)
    )
    history = History(
        events=events_of(trigger), stages=stages, planted_on=date(2022, 3, 1)
    )
    far = windows.occurrences(trigger, history, *FAR, latitude)
    assert far
    for window in far:
        for start in (window.opens, window.due):
            for name in (window.occurrence, ""):
                for on in (window.opens, window.opens - timedelta(days=1)):
                    turn = Done(on, name if on == window.opens else "")
                    after, without = (
                        windows.occurrences(
                            trigger,
                            history._replace(done=done),
                            start,
                            start + timedelta(days=14),
                            latitude,
                        )
                        for done in ((turn,), (turn,) * (on >= start - span))
                    )
                    assert after == without, (window, start, turn)


def test_what_repeats_or_rests_for_years_counts_all_that_was_done():
    for_good = set(TRIGGERS) - set(COUNTED)
    assert {"frost_after", "feed_1", "mulch", "drain"} <= set(COUNTED)
    assert {"monthly_look", "repot", "water_new", "harvest"} <= for_good


@pytest.mark.parametrize("key", FROM_LAST)
@given(
    st.sampled_from(LATITUDES),
    st.lists(st.integers(0, 60), min_size=1, max_size=5),
    st.integers(0, 45),
    st.integers(0, 14),
)
def test_of_what_repeats_the_turns_of_the_last_day_are_enough(
    key, latitude, back, later, length
):
    trigger, start = TRIGGERS[key], FAR[0] + timedelta(days=1400 + later)
    today = start + timedelta(days=length)
    days = [today - timedelta(days=n) for n in back]
    done = tuple(Done(on, name) for on in days for name in ("", "first")[: on.day % 3])
    done = (*done, *(Done(on) for on in days))
    last = max(turn.on for turn in done)
    history = History(events=events_of(trigger), planted_on=date(2025, 9, 20))
    measured = Measurements(
        today=today,
        minima=((today + timedelta(days=1), -4.0),),
        maxima=tuple((today + timedelta(days=ahead), 41.0) for ahead in range(4)),
        cover_at_c=-2.0,
        days=tuple((today - timedelta(days=n), 15.0, 35.0) for n in range(90, -1, -1)),
        soil_dry=(today - timedelta(days=2), 7.0),
        depleted=(today - timedelta(days=20), 0.9),
        below_shoulder=(today - timedelta(days=9), 4.0),
        ripe=(("Navel", today - timedelta(days=30), today + timedelta(days=30)),),
        ready=(("Lemon", today - timedelta(days=3), today),),
        retest_on=today + timedelta(days=4),
        holds_clear=True,
    )
    found, from_last = (
        windows.occurrences(
            trigger,
            history._replace(done=some),
            start,
            today,
            latitude,
            measured,
        )
        for some in (done, tuple(turn for turn in done if turn.on == last))
    )
    assert found == from_last


@pytest.mark.parametrize("latitude", LATITUDES)
def test_no_history_opens_a_job_of_which_it_is_said_that_it_may_not_open(latitude):
    closed = set()
    for job in guide.load().jobs.values():
        names = [getattr(part, "event", "") for part in parts_of(job.trigger)]
        for week in range(53):
            today = date(2026, 1, 1) + timedelta(weeks=week)
            start = today - timedelta(days=30)
            if windows.may_open(job.trigger, start, today, latitude):
                continue
            closed.add(job.key)
            for back in (0, 20, 200):
                on = today - timedelta(days=back)
                history = History(
                    events=tuple((name, on) for name in names),
                    stages=tuple((code, on) for code in range(100)),
                    planted_on=on,
                )
                assert not windows.occurrences(
                    job.trigger, history, start, today, latitude
                )
    assert closed, "some job keeps to its season"


def parts_of(trigger):
    return [trigger, *getattr(trigger, "triggers", ())]
