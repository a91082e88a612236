from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orchard.science import figures, heat
from tests.science.published import rows

TABLE = rows("degree-days")

# The cases the table leaves out; numerical integration of the sine (scipy quad).
MORE_CASES = [
    # tmin, tmax, lower, upper, horizontal cutoff, no cutoff
    (2, 10, 12.8, 36.0, 0.0, 0.0),  # case 2, all below the lower threshold
    (4, 16, 12.8, 36.0, 0.7219, 0.7219),  # case 4, mean below the lower threshold
    (6, 42, 12.8, 36.0, 11.4216, 12.4796),  # case 6, cut by both
]

celsius = st.floats(min_value=-30, max_value=50)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row["description"])
def test_the_sine_matches_numerical_integration_of_the_curve(
    row: dict[str, str],
) -> None:
    # Baskerville & Emin (1969), values by scipy integrate.quad.
    tmin, tmax, base = (float(row[key]) for key in ("tmin", "tmax", "base"))
    upper = float(row["upper"]) if row["upper"] else None
    assert heat.degree_days(tmin, tmax, base, upper) == pytest.approx(
        float(row["dd_single_sine_horizontal"]), abs=1e-6
    )
    assert heat.degree_days(tmin, tmax, base) == pytest.approx(
        float(row["dd_single_sine_no_cutoff"]), abs=1e-6
    )


def test_the_table_and_the_rows_here_hold_all_six_cases() -> None:
    seen = {row["case"] for row in TABLE} | {"2"}
    assert {"1", "2", "3", "4", "5", "6"} <= seen


@pytest.mark.parametrize(("tmin", "tmax", "lower", "upper", "cut", "uncut"), MORE_CASES)
def test_more_cases_of_the_sine(
    tmin: float, tmax: float, lower: float, upper: float, cut: float, uncut: float
) -> None:
    """More days, integrated numerically, give the same heat units."""
    assert heat.degree_days(tmin, tmax, lower, upper) == pytest.approx(cut, abs=1e-4)
    assert heat.degree_days(tmin, tmax, lower) == pytest.approx(uncut, abs=1e-4)


@pytest.mark.parametrize(
    ("tmin", "tmax", "next_tmin", "expected"),
    [(5, 25, 9, 4.6833), (6, 42, 14, 12.7078), (10, 30, 10, 7.6512)],
)
def test_each_half_of_the_day_has_its_own_sine(
    tmin: float, tmax: float, next_tmin: float, expected: float
) -> None:
    # Allen (1976), values by numerical integration.
    found = heat.degree_days_half_day(tmin, tmax, next_tmin, 12.8, 36.0)
    assert found == pytest.approx(expected, abs=1e-4)


def test_a_week_adds_up_day_by_day() -> None:
    # Values by numerical integration of each day's sine.
    monday = date(2024, 5, 6)
    pairs = [(8, 21), (9, 23), (11, 26), (12, 28), (13, 31), (10, 24), (7, 19)]
    week = [
        (monday + timedelta(days=ahead), low, high)
        for ahead, (low, high) in enumerate(pairs)
    ]
    daily = [2.9902, 4.0653, 5.9679, 7.2763, 9.2000, 4.7428, 2.0109]
    sums = heat.accumulate(reversed(week), 12.8, 36.0)
    assert [on for on, _ in sums] == [on for on, _, _ in week]
    running = 0.0
    for (_, total), units in zip(sums, daily, strict=True):
        running += units
        assert total == pytest.approx(running, abs=5e-4)
    assert sums[-1][1] == pytest.approx(36.2535, abs=1e-4)
    late = heat.accumulate(week, 12.8, 36.0, start=monday + timedelta(days=5))
    assert late[-1][1] == pytest.approx(4.7428 + 2.0109, abs=2e-4)


def test_fahrenheit_degree_days_are_1_8_times_celsius_ones() -> None:
    """Degree-days in Fahrenheit are 1.8 times those in Celsius."""
    # 59/86 °F over 55.04 °F gives 17.46; the ratio of the scales is exact.
    celsius_units = heat.degree_days(15, 30, 12.8)
    assert celsius_units * 1.8 == pytest.approx(17.46, abs=1e-9)


def test_the_thresholds_of_citrus_are_figures_with_a_source() -> None:
    # Hardy & Khurshid (2007), New South Wales DPI, Primefact 749: 13 to 35 °C.
    assert figures.figure("heat_base_c").value == 13.0
    assert figures.figure("heat_cap_c").value == 35.0
    assert "749" in figures.figure("heat_base_c").source


@given(celsius, celsius, celsius, celsius)
def test_heat_units_stay_between_nothing_and_the_span_of_the_thresholds(
    one: float, two: float, three: float, four: float
) -> None:
    tmin, tmax = sorted((one, two))
    lower, upper = sorted((three, four))
    if upper - lower < 1e-6:
        upper = lower + 1.0
    found = heat.degree_days(tmin, tmax, lower, upper)
    assert 0.0 <= found <= upper - lower + 1e-9
    assert found <= heat.degree_days(tmin, tmax, lower) + 1e-9


@given(celsius, celsius, celsius, st.floats(min_value=0, max_value=15))
def test_warmer_days_never_bring_less_and_higher_thresholds_never_more(
    one: float, two: float, lower: float, more: float
) -> None:
    tmin, tmax = sorted((one, two))
    found = heat.degree_days(tmin, tmax, lower, lower + 20)
    assert heat.degree_days(tmin, tmax + more, lower, lower + 20) >= found - 1e-9
    raised = min(tmin + more, tmax)
    assert heat.degree_days(raised, tmax, lower, lower + 20) >= found - 1e-9
    uncut = heat.degree_days(tmin, tmax, lower)
    assert heat.degree_days(tmin, tmax, lower + more) <= uncut + 1e-9


@pytest.mark.parametrize(
    ("tmin", "tmax", "lower", "upper", "told"),
    [
        (20, 10, 13, 35, "tmin"),
        (math.nan, 20, 13, 35, "tmin"),
        (10, math.inf, 13, 35, "tmax"),
        (None, 20, 13, 35, "tmin"),
        (10, 20, math.nan, None, "lower"),
        (10, 20, 13, 13, "upper"),
        (10, 20, 35, 13, "upper"),
        (10, 200, 13, 35, "tmax"),
        (True, 20, 13, 35, "tmin"),
    ],
)
def test_temperatures_without_meaning_are_refused_by_name(
    tmin: float, tmax: float, lower: float, upper: float | None, told: str
) -> None:
    with pytest.raises(ValueError, match=told):
        heat.degree_days(tmin, tmax, lower, upper)


def test_a_missing_day_is_refused_and_not_bridged() -> None:
    first = date(2024, 2, 28)
    whole = [(first + timedelta(days=ahead), 10.0, 25.0) for ahead in range(4)]
    assert len(heat.accumulate(whole, 13)) == 4
    assert whole[1][0] == date(2024, 2, 29)
    with pytest.raises(ValueError, match="2024-02-28 is followed by 2024-03-01"):
        heat.accumulate([whole[0], *whole[2:]], 13)
    with pytest.raises(ValueError, match="followed by"):
        heat.accumulate([*whole, whole[-1]], 13)
    with pytest.raises(ValueError, match="followed by"):
        heat.accumulate(whole, 13, start=first - timedelta(days=1))
    with pytest.raises(ValueError, match="empty"):
        heat.accumulate([], 13)
    with pytest.raises(ValueError, match="start"):
        heat.accumulate(whole, 13, start=datetime(2024, 2, 28, tzinfo=UTC))
    assert heat.accumulate(whole, 13, start=date(2024, 4, 1)) == []


def test_the_expected_day_is_the_first_that_reaches_the_target() -> None:
    # Own arithmetic: 90 + 4 + 4 + 4 reaches 100 on the third day.
    first = date(2024, 12, 30)
    coming = [(first + timedelta(days=ahead), 4.0) for ahead in range(5)]
    assert heat.expected_date(90, 100, coming) == date(2025, 1, 1)
    assert heat.expected_date(92, 100, coming) == date(2024, 12, 31)
    assert heat.expected_date(10, 100, coming) is None
    with pytest.raises(ValueError, match="already reaches"):
        heat.expected_date(100, 100, coming)
    with pytest.raises(ValueError, match="followed by"):
        heat.expected_date(90, 100, [coming[0], coming[2]])
    with pytest.raises(ValueError, match="empty"):
        heat.expected_date(90, 100, [])
    with pytest.raises(ValueError, match="normals"):
        heat.expected_date(90, 100, [(first, -1.0)])


def test_the_day_a_sum_was_reached_is_found_again() -> None:
    sums = [(date(2024, 5, 1), 3.0), (date(2024, 5, 2), 7.0)]
    assert heat.reached_on(sums, 7.0) == date(2024, 5, 2)
    assert heat.reached_on(sums, 7.1) is None


def test_usual_days_average_the_same_days_of_past_years() -> None:
    # Own arithmetic: two years at 4 and 6 units give 5, across New Year too.
    history = [
        (date(year, month, 28) + timedelta(days=ahead), units)
        for year, units in ((2021, 4.0), (2022, 6.0))
        for month in (12,)
        for ahead in range(10)
    ]
    usual = heat.usual_days(history, date(2024, 12, 30), 5, half_window=0)
    assert [on for on, _ in usual][0] == date(2024, 12, 30)
    assert [units for _, units in usual] == pytest.approx([5.0] * 5)
    assert heat.expected_date(90, 100, usual) == date(2024, 12, 31)
    with pytest.raises(ValueError, match="history has no day"):
        heat.usual_days(history, date(2024, 6, 1), 1)


def test_usual_days_look_a_week_to_either_side() -> None:
    known = [(date(2023, 5, 8), 4.0)]
    assert heat.usual_days(known, date(2024, 5, 15), 1)[0][1] == 4.0
    assert heat.usual_days(known, date(2024, 5, 1), 1)[0][1] == 4.0
    with pytest.raises(ValueError, match="within 7 days"):
        heat.usual_days(known, date(2024, 5, 16), 1)


def test_a_leap_day_takes_the_usual_warmth_of_the_day_before() -> None:
    usual = heat.usual_days(
        [(date(2023, 2, 28), 3.0)], date(2024, 2, 29), 1, half_window=0
    )
    assert usual == [(date(2024, 2, 29), 3.0)]


def test_sums_reckoned_once_are_those_of_each_start() -> None:
    # The plain way is `accumulate`, itself held against the published table above.
    first = date(2024, 11, 1)
    days = [(first + timedelta(days=n), 4.0 + n % 9, 15.0 + n % 14) for n in range(400)]
    sums = heat.Sums(days, 13.0, 35.0)
    for start in (first, date(2025, 3, 3), days[-1][0]):
        plain = heat.accumulate(days, 13.0, 35.0, start=start)
        assert sums.since(start) == [
            (on, pytest.approx(total, abs=1e-9)) for on, total in plain
        ]
        assert sums.between(start, days[-1][0]) == pytest.approx(plain[-1][1])
    with pytest.raises(ValueError, match="no temperatures"):
        sums.since(date(2024, 10, 31))


def test_sums_refuse_a_gap() -> None:
    days = [(date(2025, 1, 1), 5.0, 20.0), (date(2025, 1, 3), 5.0, 20.0)]
    with pytest.raises(ValueError, match="every day"):
        heat.Sums(days, 13.0)


@given(
    st.lists(st.tuples(st.floats(-15, 45), st.floats(0, 25)), min_size=1, max_size=30),
    st.floats(-5, 25),
    st.one_of(st.none(), st.floats(0.1, 25)),
    st.randoms(),
)
def test_the_units_of_many_days_are_those_of_each_day(spans, lower, more, dice) -> None:
    # `degree_days` is held against published examples above.
    upper = None if more is None else lower + more
    first = date(2024, 1, 1)
    days = [
        (first + timedelta(days=n), low, low + span)
        for n, (low, span) in enumerate(spans)
    ]
    expected = [
        (on, heat.degree_days(low, high, lower, upper)) for on, low, high in days
    ]
    dice.shuffle(days)
    assert heat.Sums(days, lower, upper).units == expected


def textbook_area(tmin: float, tmax: float, threshold: float) -> float:
    """The area of the sine above a threshold, as Baskerville & Emin (1969) write it."""
    mean, amplitude = (tmax + tmin) / 2, (tmax - tmin) / 2
    if tmin >= threshold:
        return mean - threshold
    if tmax <= threshold:
        return 0.0
    angle = math.asin(max(-1.0, min(1.0, (threshold - mean) / amplitude)))
    above = (mean - threshold) * (math.pi / 2 - angle) + amplitude * math.cos(angle)
    return above / math.pi


tenths = st.integers(-100, 450)


@given(tenths, st.integers(0, 250), st.integers(50, 200), st.integers(1, 250))
def test_thresholds_that_touch_a_day_follow_the_textbook(
    low, span, lower, more
) -> None:
    # On tenths, as stations read them, a threshold often is a day's lowest or highest.
    tmin, tmax = low / 10, (low + span) / 10
    base, cap = lower / 10, (lower + more) / 10
    expected = textbook_area(tmin, tmax, base) - textbook_area(tmin, tmax, cap)
    found = heat.degree_days(tmin, tmax, base, cap)
    assert found == pytest.approx(expected, abs=1e-9)
    assert found >= 0
