"""Files of hours and days in parts: recognised, worked up, or refused once."""

from __future__ import annotations

import io
import time
from datetime import UTC, date, datetime, timedelta
from functools import partial

import pytest
from openpyxl import Workbook

from orchard.records.models import Forecast, Station, WeatherDay
from orchard.services import weather
from orchard.services.imports import sheets, weather_files
from orchard.services.imports.sheets.faults import numbers_in, runs_of, span_of
from orchard.services.imports.weather_files import WeatherChoices, hours, moments
from orchard.services.imports.weather_files.shapes import WeatherFate
from tests.conftest import NOW, TODAY, make_orchard
from tests.refusals import refused

pytestmark = pytest.mark.django_db

HEADS = "date,time,temp (°C),rain (mm),rh (%),wind 2m (m/s)"
recognise = partial(weather_files.count_recognised, fields=weather_files.DAYS)


def read(text: str, name: str = "hours.csv") -> sheets.Sheet:
    return sheets.read_sheet(
        io.BytesIO(text.encode()),
        name,
        most_rows=weather_files.MOST_ROWS,
        recognise=recognise,
    )


def hours_of(day: str, *, but: tuple[int, ...] = (), heads: str = "") -> list[str]:
    """Write a day of hours: 5 °C at midnight, half a degree more each hour."""
    return [
        f"{day},{hour:02}:00,{5 + hour / 2},{0.2 if hour < 10 else 0},{90 - hour},2"
        for hour in range(24)
        if hour not in but
    ]


@pytest.fixture
def station(orchard, cora):
    return Station.objects.create(
        orchard=orchard, name="Hill", source="Invented", made_by=cora, made_at=NOW
    )


@pytest.fixture
def look(orchard, station):
    def looked(*lines, heads=HEADS, **choices):
        return weather_files.preview(
            orchard,
            read("\n".join([heads, *lines])),
            station=station,
            today=TODAY,
            choices=WeatherChoices(**choices),
        )

    return looked


def test_hours_are_worked_up_into_days(orchard, station, cora, look):
    lines = [*hours_of("2026-05-01"), *hours_of("2026-05-02")]
    looked = look(*lines)
    assert (looked.new, looked.refused) == (2, 0)
    assert "combined into days" in looked.notes[-1]
    weather_files.import_days(
        orchard,
        read("\n".join([HEADS, *lines])),
        station=station,
        by=cora,
        now=NOW,
        today=TODAY,
    )
    (day,) = weather.span(orchard, date(2026, 5, 2), date(2026, 5, 2))
    # By hand: 5 to 16.5 °C in 24 even steps has its mean at 10.75; ten hours of 0.2 mm.
    assert (day.tmin, day.tmax, day.tmean) == (5.0, 16.5, 10.75)
    assert day.rain_mm == pytest.approx(2.0)
    assert (day.rh_min, day.rh_max, day.rh_mean) == (67, 90, 78.5)
    assert day.wind_2m == 2
    origin = day.origins["tmin"]
    assert (origin.column, origin.row, origin.written) == (
        "temp (°C)",
        26,
        "24 of 24 rows",
    )


def test_a_sum_with_an_hour_missing_stays_open_and_extremes_stand(look):
    looked = look(*hours_of("2026-05-01", but=(12,)), *hours_of("2026-05-02"))
    plan = looked.rows[0].plan
    assert plan.values["rain_mm"] is None
    assert plan.values["tmax"] == 16.5
    assert "rain stays open: the day has 23 of 24 rows." in looked.rows[0].notes


@pytest.mark.parametrize(
    ("but", "enough"),
    [((1, 7, 13, 19, 21, 23), True), ((3, 4, 5, 6), False), (tuple(range(17)), False)],
)
def test_a_day_with_too_few_hours_or_a_long_gap_has_no_lowest(look, but, enough):
    looked = look(*hours_of("2026-05-01", but=but), *hours_of("2026-05-02"))
    row = looked.rows[0]
    if enough:
        assert row.plan.values["tmin"] == 5.0
    else:
        assert row.fate is WeatherFate.SHORT
        assert f"Only {24 - len(but)} of 24 rows" in row.notes[0]
    assert looked.refused == 0


def test_today_is_left_out_since_it_is_not_over(look):
    looked = look(*hours_of("2026-05-11"), *hours_of(TODAY.isoformat()))
    assert [row.fate for row in looked.rows] == [WeatherFate.NEW, WeatherFate.SHORT]
    assert looked.can_be_taken_in


def test_day_and_time_in_one_cell_and_quarters_of_an_hour(look):
    start = datetime(2026, 5, 1, tzinfo=UTC)
    lines = []
    for step in range(2 * 96):
        at = start + timedelta(minutes=15 * step)
        lines.append(f"{at:%Y-%m-%d %H:%M},{50 + at.hour}")
    looked = look(*lines, heads="timestamp,temperature (°F)")
    assert looked.new == 2
    assert looked.rows[0].plan.values["tmin"] == 10.0
    assert looked.rows[0].plan.written["tmin"] == "96 of 96 rows"


def test_hours_of_a_spreadsheet_keep_their_time(orchard, station):
    book = Workbook()
    book.active.append(["Date time", "Temp (°C)"])
    for hour in range(48):
        # A spreadsheet knows no zones.
        at = datetime(2026, 5, 1, tzinfo=UTC) + timedelta(hours=hour)
        book.active.append([at.replace(tzinfo=None), hour / 2])
    file = io.BytesIO()
    book.save(file)
    file.seek(0)
    sheet = sheets.read_sheet(file, "hours.xlsx", recognise=recognise)
    looked = weather_files.preview(orchard, sheet, station=station, today=TODAY)
    assert looked.new == 2
    assert looked.rows[1].plan.values["tmax"] == 23.5


def test_rows_three_hours_apart_tell_no_lowest_and_no_highest(look):
    lines = [
        f"2026-05-0{day},{hour:02}:00,{hour},1,50,2"
        for day in (1, 2)
        for hour in range(0, 24, 3)
    ]
    plan = look(*lines).rows[0].plan
    assert (plan.values["tmin"], plan.values["tmax"]) == (None, None)
    assert plan.values["tmean"] == 10.5
    assert plan.values["rain_mm"] == 8
    assert plan.written["tmin"] == "a row every 180 minutes"


def test_power_of_the_sun_is_a_mean_and_its_energy_a_sum(look):
    lines = [f"2026-05-0{day},{h},{250},0.5" for day in (1, 2) for h in range(24)]
    power = look(*lines, heads="date,hour,solar (W/m2),rain (mm)")
    # 250 W/m² all day are 21.6 MJ/m²: FAO-56, table 3.
    assert power.rows[0].plan.values["solar"] == pytest.approx(21.6)
    lines = [line.replace("250", "0.9") for line in lines]
    energy = look(*lines, heads="date,hour,solar (MJ/m2),rain (mm)")
    assert energy.rows[0].plan.values["solar"] == pytest.approx(21.6)


def test_a_day_in_march_has_23_hours_and_one_in_october_25(orchard):
    assert hours.minutes_of(date(2026, 3, 29), "Europe/Lisbon") == 23 * 60
    assert hours.minutes_of(date(2026, 10, 25), "Europe/Lisbon") == 25 * 60
    assert hours.minutes_of(date(2026, 5, 1), "Europe/Lisbon") == 24 * 60


def test_the_short_day_of_march_is_whole(look):
    looked = look(*hours_of("2026-03-28"), *hours_of("2026-03-29", but=(1,)))
    assert looked.rows[1].plan.values["rain_mm"] == pytest.approx(1.8)


def test_an_hour_that_stands_twice_with_other_values_is_refused(look):
    lines = hours_of("2026-05-01")
    looked = look(*lines, lines[5], *hours_of("2026-05-02"))
    assert looked.refused == 0
    looked = look(*lines, "2026-05-01,05:00,30,0,50,2", *hours_of("2026-05-02"))
    assert "05:00 is there twice" in looked.rows[0].reasons[0]


def test_hours_that_stand_twice_alike_are_counted_once(look):
    lines = hours_of("2026-05-01")
    looked = look(*lines, *lines, *hours_of("2026-05-02"))
    assert looked.refused == 0
    assert looked.rows[0].plan.values["rain_mm"] == pytest.approx(2.0)


def test_an_hour_that_stands_twice_does_not_stand_for_a_missing_one(look):
    lines = hours_of("2026-05-01", but=(7,))
    looked = look(*lines, lines[5], *hours_of("2026-05-02"))
    assert looked.rows[0].plan.values["rain_mm"] is None
    looked = look(*lines, "2026-05-01,05:00,30,0,50,2", *hours_of("2026-05-02"))
    assert "05:00 is there twice" in looked.rows[0].reasons[0]


def test_the_hour_that_the_clock_shows_twice_in_october_counts_twice(look):
    before, lines = hours_of("2025-10-25"), hours_of("2025-10-26")
    again = lines[1].replace("5.5", "5.4")
    looked = look(*before, *lines[:2], again, *lines[2:])
    assert looked.refused == 0
    assert looked.rows[1].plan.values["rain_mm"] == pytest.approx(2.2)


def test_rain_that_no_day_ever_had_is_refused_by_its_sum(look):
    lines = [line.replace(",0.2,", ",250,") for line in hours_of("2026-05-01")]
    looked = look(*lines, *hours_of("2026-05-02"))
    assert "rain: 2500 mm in a day can't be right" in looked.rows[0].reasons[0]


def test_several_rows_a_day_without_a_time_are_named_once(look):
    lines = [f"2026-05-0{day},{hour}" for day in (1, 2) for hour in range(24)]
    looked = look(*lines, heads="date,tmin (°C)")
    assert len(looked.problems) == 1
    assert "which column holds the time" in looked.problems[0]
    assert looked.rows == ()


FORECAST_HEADS = "date,time,temp (°C),rain (mm),wind (m/s),cloud (%),dew point (°C)"


def forecast_of(day: str, *, but: tuple[int, ...] = ()) -> list[str]:
    """Write a day of a forecast by the hour: 2 °C at midnight, a degree each hour."""
    return [
        f"{day},{hour:02}:00,{2 + hour},0.5,{1 + hour % 2},{hour},-1"
        for hour in range(24)
        if hour not in but
    ]


@pytest.fixture
def look_ahead(orchard):
    def looked(*lines, heads=FORECAST_HEADS, **choices):
        return weather_files.preview(
            orchard,
            read("\n".join([heads, *lines])),
            sort="forecast",
            today=TODAY,
            choices=WeatherChoices(**choices),
        )

    return looked


def test_a_forecast_by_the_hour_is_combined_into_days(orchard, cora):
    lines = [*forecast_of("2026-05-13"), *forecast_of("2026-05-14")]
    weather_files.import_days(
        orchard,
        read("\n".join([FORECAST_HEADS, *lines])),
        sort="forecast",
        by=cora,
        now=NOW,
        today=TODAY,
        source="Town forecast",
    )
    first, second = Forecast.objects.in_orchard(orchard).newest_last()
    assert [first.for_on, second.for_on] == [date(2026, 5, 13), date(2026, 5, 14)]
    # By hand: 2 to 25 °C; 24 hours of 0.5 mm; 1 and 2 m/s by turns; 0 to 23 %.
    assert (first.tmin, first.tmax, first.dew_point) == (2, 25, -1)
    assert (first.rain_mm, first.wind, first.cloud) == (12, 1.5, 11.5)
    assert first.written["tmin"] == "24 of 24 rows"
    assert set(first.intake.columns) == set(Forecast.EXPECTED)


def test_hours_of_a_forecast_that_are_past_or_too_few_are_left_out(look_ahead):
    yesterday = (TODAY - timedelta(days=1)).isoformat()
    afternoon = forecast_of(TODAY.isoformat(), but=tuple(range(14)))
    late = forecast_of("2026-05-14", but=(22, 23))
    looked = look_ahead(
        *forecast_of(yesterday), *afternoon, *forecast_of("2026-05-13"), *late
    )
    assert [row.fate for row in looked.rows] == [
        WeatherFate.SHORT,
        WeatherFate.SHORT,
        WeatherFate.NEW,
        WeatherFate.NEW,
    ]
    assert looked.rows[0].notes == (
        "The day is past, so it is left out of a forecast.",
    )
    assert "Only 10 of 24 rows" in looked.rows[1].notes[0]
    assert "rain stays open: the day has 22 of 24 rows." in looked.rows[3].notes
    assert looked.rows[3].plan.values["tmin"] == 2
    assert looked.can_be_taken_in


def test_hours_further_off_than_a_forecast_reaches_are_refused(look_ahead):
    looked = look_ahead(*forecast_of("2026-05-13"), *forecast_of("2027-05-13"))
    refused_day = looked.rows[1]
    assert refused_day.fate is WeatherFate.REFUSED
    assert "further off than any forecast reaches" in refused_day.reasons[0]


def test_a_sum_of_hours_of_a_forecast_that_no_day_had_is_refused(look_ahead):
    heads = "date,time,rain (mm)"
    lines = [f"2026-05-1{day},{h:02}:00,100" for day in (3, 4) for h in range(24)]
    looked = look_ahead(*lines, heads=heads)
    assert "2400 mm in a day can't be right" in looked.rows[0].reasons[0]


def test_several_rows_a_day_of_a_forecast_without_a_time_are_named_once(look_ahead):
    lines = [f"2026-05-1{day},{hour}" for day in (3, 4) for hour in range(24)]
    looked = look_ahead(*lines, heads="date,tmin (°C)")
    assert len(looked.problems) == 1
    assert "which column holds the time" in looked.problems[0]


def test_hours_before_weather_was_measured_are_refused(look):
    looked = look(*hours_of("1626-05-01"), *hours_of("2026-05-02"))
    assert looked.rows[0].fate is WeatherFate.REFUSED
    assert "Check the year" in looked.rows[0].reasons[0]


def test_a_time_of_another_zone_is_named_once(look):
    lines = [f"2026-05-0{d}T{h:02}:00:00Z,{h}" for d in (1, 2) for h in range(24)]
    looked = look(*lines, heads="timestamp,temp (°C)")
    (fault,) = looked.faults
    assert (fault.rows, len(fault.numbers)) == ("2–49", 48)
    assert "time of another zone" in fault.sentence
    assert looked.remarkable == ()


@pytest.mark.parametrize(
    ("heads", "rows"),
    [
        ("Year,Month,Day,tmin (°C)", ("2026,5,1,8", "2026,May,2,9")),
        ("YYYY,MO,DD,tmin (°C)", ("2026,05,01,8", "2026,05,02,9")),
        ("year,doy,tmin (°C)", ("2026,121,8", "2026,122,9")),
    ],
)
def test_a_day_in_columns_of_its_parts(look, heads, rows):
    looked = look(*rows, heads=heads)
    assert [row.plan.on for row in looked.rows] == [
        date(2026, 5, 1),
        date(2026, 5, 2),
    ]


@pytest.mark.parametrize(
    ("heads", "row", "said"),
    [
        (
            "year,month,day,tmin (°C)",
            "2026,2,30,8",
            "“2026-2-30” isn't a day of the calendar",
        ),
        ("year,doy,tmin (°C)", "2025,366,8", "“2025-366” isn't a day of the calendar"),
        ("year,doy,tmin (°C)", "26,1,8", "“26” isn't a year of four digits"),
    ],
)
def test_parts_that_make_no_day_are_refused(look, heads, row, said):
    assert said in look(row, heads=heads).rows[0].reasons[0]


def test_year_and_month_alone_are_no_day(look):
    looked = look("2026,5,8", heads="year,month,tmin (°C)")
    assert "No column found for the day" in looked.problems[0]


@pytest.mark.parametrize(
    ("text", "minute"),
    [("13:05", 785), ("1 PM", 780), ("12:30 am", 30), ("1300", 780), ("7", 420),
     ("24:00", 1440), ("00:00:30", 0), ("100", 60)],
)  # fmt: skip
def test_times_are_read_in_the_ways_they_are_written(text, minute):
    assert moments.minute_in(text) == minute


@pytest.mark.parametrize("text", ["25:00", "noon", "13:75", "13 pm", "24:30"])
def test_what_is_no_time_is_refused(text):
    with refused("bad_cell", match="isn't a time"):
        moments.minute_in(text)


def test_the_same_fault_in_2000_rows_is_named_once_with_the_rows(look):
    lines = [f"day {number},8,21" for number in range(2000)]
    looked = look(*lines, "2026-05-01,22,21", heads="date,tmin (°C),tmax (°C)")
    (fault,) = looked.faults
    assert (fault.rows, len(fault.numbers)) == ("2–2001", 2000)
    assert fault.sentence == "“day 0” isn't a date. Write it as 2021-04-30."
    (row,) = looked.remarkable
    assert row.number == 2002


def test_numbers_of_rows_go_through_a_form_and_back():
    assert runs_of([5, 6, 7, 9]) == [(5, 7), (9, 9)]
    assert span_of([9, 5, 6, 7]) == "5-7 9"
    assert numbers_in("5-7 9 x", most=100) == {5, 6, 7, 9}
    assert numbers_in("9-9 2-5 3 4-7 2-3", most=100) == {2, 3, 4, 5, 6, 7, 9}
    assert numbers_in("1-999999", most=10) == set(range(1, 11))
    assert numbers_in("999999 11-20 5", most=10) == {5}


def test_a_span_sent_very_often_costs_what_one_costs():
    begun = time.process_time()
    assert len(numbers_in("1-100000 " * 20_000, most=100_000)) == 100_000
    # Gone through each time it would take a minute.
    assert time.process_time() - begun < 2


def test_nothing_is_kept_of_a_day_that_is_left_out(orchard, station, cora):
    text = "\n".join([HEADS, *hours_of("2026-05-01"), *hours_of("2026-05-02")[:5]])
    taken = weather_files.import_days(
        orchard, read(text), station=station, by=cora, now=NOW, today=TODAY
    )
    assert taken.new == 1
    assert WeatherDay.objects.count() == 1


def test_the_unit_of_hours_is_told_by_their_days_not_by_their_rows(orchard, station):
    grove = make_orchard("cold", units="us")
    # A winter month in °F has 720 rows below 50: as days they would be a year in °C.
    days, clock = range(1, 31), range(24)
    lines = [f"2026-01-{day:02},{h},{30 + h / 2}" for day in days for h in clock]
    sheet = read("\n".join(["date,time,temp", *lines]))
    looked = weather_files.preview(grove, sheet, today=TODAY)
    assert "The unit of “temperature at that time” is not certain" in looked.problems[0]
