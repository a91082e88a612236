"""Weather comes in: files looked through and taken in, readings and forecasts noted."""

from __future__ import annotations

import io
import re
from datetime import UTC, date, datetime, timedelta
from functools import partial

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from orchard.records.models import (
    CarePlan,
    Change,
    Forecast,
    Intake,
    Kind,
    Reading,
    Soil,
    Station,
    Task,
    WeatherDay,
)
from orchard.science import guide
from orchard.services import care_plan, guide_sync, weather
from orchard.services.care_plan import context, measurements
from orchard.services.facts.tree import gather
from orchard.services.imports import sheets, weather_files
from orchard.services.imports.weather_files import WeatherChoices, columns, saving
from orchard.services.imports.weather_files.shapes import WeatherFate
from orchard.services.tasks import blockers
from orchard.services.tasks import close as close_task
from orchard.services.weather import Missing, series
from orchard.services.weather.facts import last_frost
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db

HEADS = "date,tmin (°C),tmax (°C),rain (mm)"


def sheet_of(*lines: str, heads: str = HEADS, name="days.csv"):
    text = "\n".join([heads, *lines])
    return sheets.read_sheet(
        io.BytesIO(text.encode()),
        name,
        most_rows=weather_files.MOST_ROWS,
        recognise=partial(
            weather_files.count_recognised, fields=weather_files.fields_of("days")
        ),
    )


@pytest.fixture
def station(orchard, cora):
    return saving.add_station(
        orchard, by=cora, now=NOW, name="Hill", source="Town record, invented"
    )


@pytest.fixture
def look(orchard, station):
    def looked(*lines, heads=HEADS, **choices):
        return weather_files.preview(
            orchard,
            sheet_of(*lines, heads=heads),
            station=station,
            today=TODAY,
            choices=WeatherChoices(**choices),
        )

    return looked


@pytest.fixture
def take(orchard, station, cora):
    def taken(*lines, heads=HEADS, now=NOW, into=station, **choices):
        return weather_files.import_days(
            orchard,
            sheet_of(*lines, heads=heads),
            station=into,
            by=cora,
            now=now,
            today=TODAY,
            choices=WeatherChoices(**choices),
        )

    return taken


def said_of(preview, row=0):
    return " ".join(preview.rows[row].reasons)


# What a file holds


def test_a_file_is_taken_in_with_where_each_value_came_from(orchard, take):
    taken = take("2026-05-01,8.1,21.4,0", "2026-05-02,9,22,12.5")

    assert (taken.new, taken.here, taken.corrected) == (2, 0, 0)
    first, second = weather.span(orchard, date(2026, 5, 1), date(2026, 5, 2))
    assert (first.tmin, first.tmax, second.rain_mm) == (8.1, 21.4, 12.5)
    origin = first.origins["tmin"]
    assert (origin.station, origin.file, origin.row) == ("Hill", "days.csv", 2)
    assert (origin.column, origin.unit, origin.written) == ("tmin (°C)", "°C", "8.1")
    line = Change.objects.get(verb="take in file")
    assert line.after["days"] == 2
    assert line.after["columns"]["tmin"]["how"] == "heading"


def test_taking_the_same_file_in_again_changes_nothing(orchard, take):
    lines = ("2026-05-01,8,21,0", "2026-05-02,9,22,3")
    take(*lines)
    again = take(*lines)
    assert (again.new, again.here) == (0, 2)
    assert WeatherDay.objects.count() == 2
    assert Intake.objects.count() == 1


def test_fahrenheit_and_inches_are_kept_in_si(orchard, take):
    # 41 °F = 5 °C, 68 °F = 20 °C, 1 in = 25.4 mm: NIST SP 811 (from memory).
    take("2026-05-01,41,68,1", heads="date,min_F,max (°F),rain [in]")
    (day,) = weather.span(orchard, date(2026, 5, 1), date(2026, 5, 1))
    assert (day.tmin, day.tmax, day.rain_mm) == (5.0, 20.0, 25.4)
    assert day.origins["tmin"].written == "41"


def test_wind_at_ten_metres_is_kept_for_two(orchard, take):
    # FAO-56 equation 47, example 14: 3.2 m/s at 10 m is 2.4 m/s at 2 m.
    take("2026-05-01,8,21,3.2", heads="date,tmin (°C),tmax (°C),wind (m/s)")
    (day,) = weather.span(orchard, date(2026, 5, 1), date(2026, 5, 1))
    assert day.wind_2m == pytest.approx(2.4, abs=0.01)


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("T max", "tmax"), ("Maximum temperature (Degrees C)", "tmax"),
        ("temp_min", "tmin"), ("PRCP", "rain_mm"), ("Rainfall (mm)", "rain_mm"),
        ("Dew point", "dew_point"), ("wind", "wind_10m"), ("Humidity [%]", "rh_mean"),
        ("moon", ""),
    ],
)  # fmt: skip
def test_headings_are_recognised(look, heading, field):
    looked = look("2026-05-01,1,2", heads=f"date,{heading},other")
    assert looked.columns[1].field == field


def test_a_day_may_be_written_without_strokes_or_with_slashes(look):
    looked = look("20260501,8,21,0", "2026/05/02,8,21,0")
    assert [row.fate for row in looked.rows] == [WeatherFate.NEW, WeatherFate.NEW]


# Units


def test_a_unit_that_nothing_tells_is_asked_for(look):
    looked = look("2026-05-01,8,21,0", heads="date,tmin,tmax,rain")
    assert len(looked.problems) == 3
    assert "The unit of “lowest temperature” is not certain" in looked.problems[0]
    answered = look(
        "2026-05-01,8,21,0",
        heads="date,tmin,tmax,rain",
        units={"tmin": "°C", "tmax": "°C", "rain_mm": "mm"},
    )
    assert answered.can_be_taken_in


def test_values_tell_fahrenheit(look):
    looked = look(
        "2026-05-01,49,71,13.2", "2026-05-02,50,88,0", heads="date,tmin,tmax,rain"
    )
    assert [column.unit for column in looked.columns] == ["", "°F", "°F", "mm"]
    assert looked.rows[1].plan.values["tmax"] == pytest.approx(31.111)


def test_a_heading_is_not_believed_against_its_values(look):
    looked = look("2026-05-01,49,71,0", "2026-05-02,50,88,0")
    assert "not certain" in looked.problems[0]
    insisted = look("2026-05-01,49,71,0", units={"tmin": "°C", "tmax": "°C"})
    assert "71 °C can't be right" in said_of(insisted)
    assert "Is the unit of the column right?" in said_of(insisted)
    assert not insisted.can_be_taken_in


# What is wrong with a row


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("2026-05-01,22,21,0", "lowest temperature (22 °C) is above highest"),
        ("2026-05-01,8,99.5,0", "99.5 °C can't be right. Possible: -90 to 60 °C"),
        ("2026-05-01,8,21,-3", "rain: -3 mm can't be right"),
        ("2026-05-01,8,21,2500", "rain: 2500 mm can't be right"),
        # More digits than any number has.
        (f"2026-05-01,8,21,{'9' * 400}", f"rain: “{'9' * 40}” can't be right"),
        ("2026-05-01,warm,21,0", "“warm” isn't a number"),
        ("2026-05-32,8,21,0", "isn't a day of the calendar"),
        (",8,21,0", "The day is missing"),
        ("2026-05-12,8,21,0", "is not over yet"),
        ("1626-05-12,8,21,0", "before weather was measured"),
        ("05/04/2026,8,21,0", "can be read in two ways"),
        ("2026-05-01,8,21,0,7", "more cells than there are headings"),
        ('2026-05-01,8,"1,500",0', "can be read in two ways"),
    ],
)
def test_a_bad_row_is_refused_with_a_sentence(look, take, line, said):
    looked = look("2026-05-03,8,21,0", line)
    assert said in said_of(looked, 1)
    assert looked.rows[1].number == 3
    with refused("not_imported", match="1 of 2 rows"):
        take("2026-05-03,8,21,0", line)
    assert not WeatherDay.objects.exists()
    assert not Intake.objects.exists()


@pytest.mark.parametrize(
    ("heads", "line", "said"),
    [
        ("date,rh (%)", "2026-05-01,140", "mean humidity: 140 % can't be right"),
        ("date,rh min (%),rh max (%)", "2026-05-01,80,40", "lowest humidity (80 %)"),
        ("date,sunshine (h)", "2026-05-01,25", "Possible: 0 to 24 h"),
        ("date,wind (m/s)", "2026-05-01,-1", "wind at 10 m: -1 m/s can't be right"),
    ],
)
def test_impossible_air_is_refused(look, heads, line, said):
    assert said in said_of(look(line, heads=heads, units={"sunshine_hours": "h"}))


def test_what_cannot_be_may_be_kept_as_a_marked_gap(orchard, take, look):
    lines = ("2026-05-01,22,21,0", "2026-05-02,8,21,-3")
    assert look(*lines).impossible == 2
    take(*lines, as_gaps=True)
    first, second = weather.span(orchard, date(2026, 5, 1), date(2026, 5, 2))
    assert first.range is None and second.rain_mm is None
    assert first.origins["tmin"].flag == "at_odds"
    assert second.origins["rain_mm"].flag == "impossible"
    assert first.origins["tmin"].written == "22"
    assert series.gaps((first, second), "tmin", "tmax") == (date(2026, 5, 1),)


@pytest.mark.parametrize("nothing", ["", "NA", "-9999", "-99.9", "999.9", "M", "--"])
def test_a_missing_value_is_marked_and_never_nought(orchard, take, nothing):
    take(f"2026-05-01,8,21,{nothing}")
    (day,) = weather.span(orchard, date(2026, 5, 1), date(2026, 5, 1))
    assert day.rain_mm is None
    assert day.origins["rain_mm"].flag == "missing"


def test_a_trace_of_rain_is_nought_and_marked(orchard, take):
    take("2026-05-01,8,21,T")
    (day,) = weather.span(orchard, date(2026, 5, 1), date(2026, 5, 1))
    assert (day.rain_mm, day.origins["rain_mm"].flag) == (0.0, "trace")


def test_missing_days_are_named_and_stay_missing(orchard, take, look):
    lines = ("2026-05-01,8,21,0", "2026-05-04,8,21,0")
    assert look(*lines).missing == ((date(2026, 5, 2), date(2026, 5, 3)),)
    take(*lines)
    days = weather.span(orchard, date(2026, 5, 1), date(2026, 5, 4))
    assert [isinstance(day, Missing) for day in days] == [False, True, True, False]
    assert weather.unbroken(days) == ((date(2026, 5, 1), 8.0, 21.0),)


def test_a_day_twice_is_kept_once_or_refused(look):
    same = look("2026-05-01,8,21,0", "2026-05-01,8,21,0")
    assert [row.fate for row in same.rows] == [WeatherFate.NEW, WeatherFate.TWICE]
    assert same.can_be_taken_in
    other = look("2026-05-01,8,21,0", "2026-05-01,9,21,0")
    assert "is in row 2 already, with other values" in said_of(other, 1)


def test_two_stations_are_never_mixed(look):
    lines = ("2026-05-01,8,21,Hill", "2026-05-01,6,20,Dale")
    heads = "date,tmin (°C),tmax (°C),station"
    looked = look(*lines, heads=heads)
    assert "The file holds 2 stations: Hill, Dale" in looked.problems[0]
    one = look(*lines, heads=heads, only_station="Dale")
    assert [row.fate for row in one.rows] == [WeatherFate.ELSEWHERE, WeatherFate.NEW]


@pytest.mark.parametrize(
    ("heads", "line", "said"),
    [
        ("code,cultivar,spot", "A-1,Meyer lemon,A-1", "No column found for the day"),
        ("date,price,volume", "2026-05-01,3,4", "not a file of daily weather"),
        ("date,wind 2m (m/s),wind (m/s)", "2026-05-01,3,4", "at 2 m and at 10 m"),
    ],
)
def test_a_file_of_another_kind_is_named_as_such(look, heads, line, said):
    assert said in " ".join(look(line, heads=heads).problems)


# Corrections


def test_other_values_for_a_day_are_refused_unless_they_are_to_correct(
    orchard, take, look
):
    take("2026-05-01,8,21,4")
    assert "lowest temperature is 8 °C here and 7 °C in the file" in said_of(
        look("2026-05-01,7,21,")
    )
    with refused("not_imported", match="differs"):
        take("2026-05-01,7,21,")

    taken = take("2026-05-01,7,21,", correct=True, now=NOW + timedelta(hours=1))

    assert taken.corrected == 1
    (day,) = weather.span(orchard, date(2026, 5, 1), date(2026, 5, 1))
    # The empty cell agrees with what was measured before.
    assert (day.tmin, day.rain_mm) == (7.0, 4.0)
    assert "rain_mm" not in {name for name, o in day.origins.items() if o.flag}
    old = WeatherDay.objects.get(superseded_at__isnull=False)
    assert old.tmin == 8.0
    line = Change.objects.get(verb="correct", subject_type="weatherday")
    assert (line.before["tmin"], line.after["tmin"]) == (8.0, 7.0)


def test_correcting_many_days_asks_no_more_than_a_few(take):
    asked = []
    for month, count in ((3, 3), (4, 30)):
        days = [date(2026, month, 1) + timedelta(days=n) for n in range(count)]
        take(*(f"{day},8,21,4" for day in days))
        before = Change.objects.count()
        with CaptureQueriesContext(connection) as queries:
            taken = take(*(f"{day},7,,5" for day in days), correct=True)
        assert taken.corrected == count
        # A line for each day, and one for the file.
        assert Change.objects.count() - before == count + 1
        asked.append(len(queries))
    assert asked[0] == asked[1]


def test_each_of_many_corrected_days_follows_its_own(take, monkeypatch):
    monkeypatch.setattr(saving, "BATCH", 4)
    days = [date(2026, 4, 1) + timedelta(days=n) for n in range(10)]
    take(*(f"{day},{n},21,{n}" for n, day in enumerate(days)))
    take(*(f"{day},{n + 0.5},," for n, day in enumerate(days)), correct=True)
    standing = WeatherDay.objects.current().order_by("on").select_related("corrects")
    assert [(row.on, row.tmin, row.rain_mm) for row in standing] == [
        (day, n + 0.5, n) for n, day in enumerate(days)
    ]
    lines = Change.objects.filter(verb="correct").order_by("pk")
    for n, (row, line) in enumerate(zip(standing, lines, strict=True)):
        assert row.corrects.on == row.on
        assert not row.corrects.is_current
        assert row.correction_reason == line.reason != ""
        assert (line.subject_id, line.subject_label) == (row.pk, str(row))
        assert (line.before["tmin"], line.after["tmin"]) == (n, n + 0.5)
        assert line.before["rain_mm"] == line.after["rain_mm"] == n


def test_a_correction_that_cannot_stand_beside_what_stays_is_refused_in_words(
    take, look
):
    take("2026-05-01,8,21,4")
    clash = r"22 °C\) would be above .*21 °C\): the file gives only one"
    assert re.search(clash, said_of(look("2026-05-01,22,,", correct=True)))
    with refused("not_imported", match=clash):
        take("2026-05-01,22,,", correct=True)
    assert WeatherDay.objects.get().is_current
    take("2026-05-01,22,25,", correct=True)


def test_a_day_corrected_by_somebody_quicker_is_said_in_a_sentence(take, monkeypatch):
    take("2026-05-01,8,21,4")

    def quicker(intake, old, row, **details):
        row = corrected(intake, old, row, **details)
        WeatherDay.objects.filter(pk=old.pk).update(superseded_at=None)
        return row

    corrected = saving._corrected
    monkeypatch.setattr(saving, "_corrected", quicker)
    with refused("not_imported", match="Somebody imported weather of the same days"):
        take("2026-05-01,7,21,", correct=True)
    assert WeatherDay.objects.get().is_current


def test_the_database_keeps_one_day_of_a_station(take, station, cora):
    take("2026-05-01,8,21,4")
    with pytest.raises(IntegrityError), transaction.atomic():
        WeatherDay.objects.create(
            station=station, on=date(2026, 5, 1), by=cora, received_at=NOW
        )


@pytest.mark.parametrize(
    "values", [{"tmin": 9, "tmax": 8}, {"tmin": 70}, {"rain_mm": -1}, {"rh_max": 101}]
)
def test_the_database_refuses_what_cannot_be(station, cora, values):
    with pytest.raises(IntegrityError), transaction.atomic():
        WeatherDay.objects.create(
            station=station, on=date(2026, 5, 1), by=cora, received_at=NOW, **values
        )


def test_the_own_station_counts_before_a_record_value_by_value(orchard, take, cora):
    own = saving.add_station(
        orchard, by=cora, now=NOW, name="Shed", source="Own instrument", sort="own"
    )
    take("2026-05-01,8,21,4")
    take("2026-05-01,5,19", heads="date,tmin (°C),tmax (°C)", into=own)
    (day,) = weather.span(orchard, date(2026, 5, 1), date(2026, 5, 1))
    assert (day.tmin, day.tmax, day.rain_mm) == (5.0, 19.0, 4.0)
    assert day.origins["tmin"].station == "Shed"
    assert day.origins["rain_mm"].station == "Hill"


def test_a_station_is_named_once_and_says_where_its_figures_come_from(orchard, cora):
    with refused("no_such_station", match="where the figures come from"):
        saving.add_station(orchard, by=cora, now=NOW, name="X", source=" ")
    saving.add_station(orchard, by=cora, now=NOW, name="X", source="y")
    with refused("no_such_station", match="already"):
        saving.add_station(orchard, by=cora, now=NOW, name="x", source="y")


# Readings


def read(orchard, vera, celsius=1.0, **more):
    return weather_files.note_reading(
        orchard, by=vera, now=NOW, at=NOW, celsius=celsius, **more
    )


def test_a_reading_is_noted_and_withdrawn_but_stays_readable(orchard, vera):
    reading = read(orchard, vera, -0.5, what="lowest", calm_clear=True)
    assert reading.on == TODAY
    assert last_frost(orchard, TODAY) == TODAY
    weather_files.withdraw_reading(reading, by=vera, now=NOW, reason="Read in °F")
    assert last_frost(orchard, TODAY) is None
    assert Reading.objects.get().withdrawn_reason == "Read in °F"
    with refused("no_reading", match="already withdrawn"):
        weather_files.withdraw_reading(reading, by=vera, now=NOW, reason="again")


def test_a_reading_of_somebody_else_is_theirs(orchard, vera, eddy, lee):
    reading = read(orchard, vera)
    with refused("not_yours"):
        weather_files.withdraw_reading(reading, by=eddy, now=NOW, reason="x")
    weather_files.withdraw_reading(reading, by=lee, now=NOW, reason="x")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"celsius": 75}, "never measured"),
        ({"celsius": 5, "dew_point": 6}, "can't be above the air"),
        ({"celsius": 5, "at": NOW + timedelta(minutes=1)}, "in the future"),
    ],
)
def test_a_reading_that_cannot_be_is_refused(orchard, vera, more, said):
    values = {"at": NOW, **more}
    with refused("no_reading", match=said):
        weather_files.note_reading(orchard, by=vera, now=NOW, **values)
    assert not Reading.objects.exists()


def test_the_offset_is_the_median_of_still_clear_nights(orchard, vera, cora):
    # Own minus forecast: -2, -3, -1; the median is -2 (Wright 2001: measure one's own).
    for ago, told, own in ((3, 4, 2), (2, 3, 0), (1, 2, 1)):
        on = TODAY - timedelta(days=ago)
        evening = datetime(on.year, on.month, on.day, tzinfo=UTC) - timedelta(hours=8)
        Forecast.objects.create(
            orchard=orchard,
            for_on=on,
            made_at=evening,
            source="x",
            tmin=told,
            by=cora,
            received_at=evening,
        )
        Reading.objects.create(
            orchard=orchard,
            what="lowest",
            on=on,
            at=NOW - timedelta(days=ago),
            celsius=own,
            calm_clear=True,
            by=vera,
            received_at=NOW,
        )
    offset = weather.offsets(orchard)[None]
    assert (offset.celsius, offset.nights) == (-2.0, 3)
    Reading.objects.filter(on=TODAY - timedelta(days=1)).update(calm_clear=False)
    assert weather.offsets(orchard) == {}


# Forecasts


def forecast(orchard, cora, ahead=1, now=NOW, **values):
    return weather_files.note_forecast(
        orchard,
        by=cora,
        now=now,
        today=TODAY,
        for_on=TODAY + timedelta(days=ahead),
        source="Town forecast",
        **values,
    )


def test_the_newest_forecast_counts_and_the_older_stays(orchard, cora):
    forecast(orchard, cora, tmin=3, tmax=14, rain_mm=2)
    forecast(orchard, cora, now=NOW + timedelta(hours=2), tmin=-1)
    tomorrow = TODAY + timedelta(days=1)
    found = weather.expected(orchard, TODAY, tomorrow)[tomorrow]
    assert (found.tmin, found.tmax, found.rain_mm) == (-1, 14, 2)
    assert Forecast.objects.count() == 2
    earlier = weather.expected(orchard, TODAY, tomorrow, as_of=NOW)[tomorrow]
    assert earlier.tmin == 3


@pytest.mark.parametrize(
    ("ahead", "values", "said"),
    [
        (-1, {"tmin": 1}, "past"),
        (40, {"tmin": 1}, "further off"),
        (1, {}, "at least one figure"),
        (1, {"tmin": 9, "tmax": 3}, "swapped"),
        (1, {"cloud": 120}, "must be from 0 to 100"),
        (1, {"rain_mm": -1}, "must be from 0 to 2000"),
    ],
)
def test_a_forecast_that_cannot_be_is_refused(orchard, cora, ahead, values, said):
    with refused("no_forecast", match=said):
        forecast(orchard, cora, ahead, **values)
    assert not Forecast.objects.exists()


def test_a_file_of_forecasts_is_taken_in_once(orchard, cora):
    sheet = sheet_of(
        "2026-05-13,9,22,80,1",
        "2026-05-14,10,36,0,0",
        heads="date,min (°C),max (°C),cloud (%),rain (mm)",
    )

    def taken(now):
        return weather_files.import_days(
            orchard, sheet, sort="forecast", by=cora, now=now, today=TODAY, source="T"
        )

    assert taken(NOW).new == 2
    again = taken(NOW + timedelta(hours=1))
    assert (again.new, again.here) == (0, 2)
    assert Forecast.objects.count() == 2


def test_a_forecast_file_with_days_past_is_refused(orchard, cora):
    sheet = sheet_of("2026-05-01,9", heads="date,min (°C)")
    looked = weather_files.preview(orchard, sheet, sort="forecast", today=TODAY)
    assert "is past" in said_of(looked)


# What verdicts and jobs are told


def test_heat_and_frost_ahead_are_told_only_when_they_are_known(orchard, tree, cora):
    assert "heat_ahead" not in gather(tree, on=TODAY).base
    forecast(orchard, cora, 2, tmax=36)
    facts = gather(tree, on=TODAY).base
    assert facts["heat_ahead"] is True
    # What was only forecast today is not held against a look last week.
    past = gather(tree, on=TODAY - timedelta(days=3)).base
    assert "heat_ahead" not in past


def test_no_heat_is_only_said_for_a_week_that_is_forecast(orchard, tree, cora):
    for ahead in range(6):
        forecast(orchard, cora, ahead, tmax=20)
    assert "heat_ahead" not in gather(tree, on=TODAY).base
    forecast(orchard, cora, 6, tmax=20)
    assert gather(tree, on=TODAY).base["heat_ahead"] is False


def test_a_frost_forecast_counts_out_of_season(orchard, tree, cora):
    assert gather(tree, on=TODAY).base["frost_ahead"] is False
    forecast(orchard, cora, 3, tmin=0)
    assert gather(tree, on=TODAY).base["frost_ahead"] is True


def test_days_since_frost_come_from_what_was_measured(tree, take):
    take("2026-05-02,-0.2,11,0")
    assert gather(tree, on=TODAY).base["frost_days"] == 10
    assert "frost_days" not in gather(tree, on=date(2026, 5, 1)).base


def test_pruning_waits_for_the_heat_to_end(orchard, cora):
    assert blockers.circumstances(orchard, today=TODAY).heat is False
    forecast(orchard, cora, 1, tmax=35)
    assert blockers.circumstances(orchard, today=TODAY).heat is True


# Work that follows


def winter(orchard, cora, **values):
    """Note a forecast for the night to 11 December, and return what was opened."""
    now = datetime(2026, 12, 10, 15, tzinfo=UTC)
    weather_files.note_forecast(
        orchard,
        by=cora,
        now=now,
        today=now.date(),
        for_on=date(2026, 12, 11),
        source="Town forecast",
        **values,
    )
    return list(Task.objects.open().filter(kind="care", key="frost_cover_on"))


@pytest.fixture
def planned(orchard):
    guide_sync.bring_up_to_date(orchard, NOW)
    return orchard


def test_jobs_by_weather_wake_up_with_the_first_forecast(planned, cora):
    def active():
        return CarePlan.objects.get(orchard=planned, job="frost_watch").active

    assert not active()
    forecast(planned, cora, tmin=12)
    assert active()


def test_a_frost_forecast_opens_cover_tasks_for_tender_trees_alone(planned, cora):
    # Cover from -1 °C (T3), two degrees sooner in a container: common practice.
    make_tree(planned, "A-1")
    make_tree(planned, "P-1", setting="container")
    (task,) = winter(planned, cora, tmin=0.5)
    assert task.tree.code == "P-1"
    assert task.due_on == date(2026, 12, 10)
    assert (
        "Expected in the night to Friday: lowest 0.5\xa0°C. Cover limit: 1.0"
        "\xa0°C." in task.because
    )
    # Sunset at 38.5° N 8.5° W on 10 December is about 17:13 local.
    assert "Be done by 16:1" in task.because


def test_a_warmer_forecast_lets_the_cover_tasks_fall(planned, cora):
    make_tree(planned, "P-1", setting="container")
    (task,) = winter(planned, cora, tmin=0.5)
    later = datetime(2026, 12, 10, 18, tzinfo=UTC)
    weather_files.note_forecast(
        planned,
        by=cora,
        now=later,
        today=later.date(),
        for_on=date(2026, 12, 11),
        source="Town forecast",
        tmin=6,
    )
    task.refresh_from_db()
    closure = task.closures.get()
    assert closure.how == "cancelled"
    assert "no longer asks" in closure.reason


def test_a_lowest_that_nobody_would_believe_is_asked_about(planned, cora):
    # No record here: 28 °C as a December minimum at 38.5° N is 28 °F in all likelihood.
    make_tree(planned, "P-1", setting="container")
    (task,) = winter(planned, cora, tmin=0.5)
    with refused("unlikely_forecast", match="tick here"):
        winter(planned, cora, tmin=28)
    task.refresh_from_db()
    assert not task.closures.exists()
    winter(planned, cora, tmin=28, is_confirmed=True)
    assert task.closures.get().how == "cancelled"


def test_a_lowest_out_of_a_file_that_nobody_would_believe_cancels_nothing(
    planned, cora
):
    make_tree(planned, "P-1", setting="container")
    (task,) = winter(planned, cora, tmin=0.5)
    row = Forecast.objects.get()
    later = datetime(2026, 12, 10, 16, tzinfo=UTC)
    file = Intake.objects.create(
        orchard=planned,
        sort=Intake.Sort.FORECAST,
        file_name="week.csv",
        by=cora,
        taken_at=later,
    )
    row.pk, row.tmin, row.made_at, row.intake = None, 28.0, later, file
    row.save()
    care_plan.open_next(planned, now=later, today=later.date())
    assert not task.closures.exists()


def test_a_forecast_is_held_against_the_record_of_the_season(orchard, cora):
    station = Station.objects.create(
        orchard=orchard, name="Gate", source="own", made_by=cora, made_at=NOW
    )
    for back in (*range(1, 14), *range(355, 366)):
        WeatherDay.objects.create(
            station=station,
            on=TODAY - timedelta(days=back),
            tmin=float(back % 3),
            tmax=20.0,
            by=cora,
            received_at=NOW,
        )
    # Measured 0 to 2 °C; eight degrees beyond is common practice.
    tomorrow = TODAY + timedelta(days=1)
    for low, believed in ((-8, True), (-8.1, False), (10, True), (10.1, False)):
        assert weather.is_minimum_believable(orchard, tomorrow, low) is believed


def test_what_the_night_would_cost_most_stands_first_on_the_board(planned, cora):
    lemon = Kind.objects.create(
        orchard=planned, name="Lime", guide_key="Lime", tender_class="T1"
    )
    make_tree(planned, "A-1")
    make_tree(planned, "A-2", kind=lemon)
    make_tree(planned, "A-3", setting="container")
    opened = sorted(winter(planned, cora, tmin=-2), key=lambda task: task.pk)
    assert [task.tree.code for task in opened] == ["A-2", "A-3", "A-1"]


def test_covering_asks_for_uncovering_and_an_old_night_falls_away(planned, cora):
    make_tree(planned, "P-1", setting="container")
    (task,) = winter(planned, cora, tmin=-1)
    evening = datetime(2026, 12, 10, 17, tzinfo=UTC)
    close_task(task, by=cora, now=evening, today=evening.date())

    morning = datetime(2026, 12, 11, 3, tzinfo=UTC)
    care_plan.open_next(planned, now=morning, today=morning.date())

    off = Task.objects.open().get(kind="care", key="frost_cover_off")
    assert off.due_on == date(2026, 12, 11)
    assert "Be done by 10:00" in off.because
    watch = Task.objects.open().filter(kind="care", key="frost_watch")
    assert not watch.filter(due_on__lt=date(2026, 12, 10)).exists()


def test_a_forgotten_cover_task_falls_away_after_a_day_of_grace(planned, cora):
    make_tree(planned, "P-1", setting="container")
    (task,) = winter(planned, cora, tmin=-1)
    for day, is_open in ((11, True), (12, False)):
        now = datetime(2026, 12, day, 3, tzinfo=UTC)
        care_plan.open_next(planned, now=now, today=now.date())
        task.refresh_from_db()
        assert (task.closed_at is None) is is_open
    assert task.closures.get().reason == "Its time has passed."


def test_heavy_rain_and_harmful_frost_of_a_file_open_their_looks(planned, take, tree):
    # 25 mm in a day: look at drainage two days on. T3 wood is hurt from -4.5 °C,
    # soft growth from -2.5 °C (common practice).
    CarePlan.objects.filter(orchard=planned).update(set_at=NOW - timedelta(days=90))
    planned.founded_at = NOW - timedelta(days=90)
    planned.save()
    type(tree).objects.update(entered_at=NOW - timedelta(days=90))
    take("2026-05-08,-3,12,0", "2026-05-09,4,14,25")
    opened = set(Task.objects.open().values_list("key", "due_on"))
    assert ("drain", date(2026, 5, 11)) in opened
    assert ("frost_after", date(2026, 5, 11)) in opened


def test_a_mild_frost_hurts_no_grown_navel(planned, take, tree):
    take("2026-05-08,-1,12,0")
    assert not Task.objects.filter(kind="care", key="frost_after").exists()


def test_ground_water_is_reckoned_only_without_a_long_gap(orchard, take, tree, cora):
    job = next(job for key, job in guide.load().jobs.items() if key == "water_ground")

    def used():
        known = care_plan.gather_context(orchard, today=TODAY)
        seen = measurements.read_measurements(known, [job], now=NOW)
        (subject,) = context.subjects(job, [known.growing(tree.pk)], known)
        history = known.history(job, subject)
        return measurements.measurements_of(seen, known, job, subject, history).depleted

    assert used() is None
    Soil.objects.create(orchard=orchard, sort="loam", cover="bare", by=cora, set_at=NOW)
    start = TODAY - timedelta(days=20)
    lines = [
        f"{start + timedelta(days=n)},12,28,{200 if n == 0 else 0}" for n in range(20)
    ]
    take(*lines[:4], *lines[15:])
    assert used() is None, "eleven days in a row are missing"
    take(*lines[4:15])
    since, share = used()
    assert since == start
    assert 0.5 < share < 1.5


def test_polar_night_leaves_the_water_unknown(orchard, take, cora):
    Soil.objects.create(orchard=orchard, sort="loam", cover="bare", by=cora, set_at=NOW)
    type(orchard).objects.update(latitude="78.20000")
    orchard.refresh_from_db()
    heads = "date,tmin (°C),tmax (°C),rain (mm),wind 2m (m/s)"
    take("2025-12-20,-20,-10,0,3", heads=heads)
    job = guide.load().jobs["water_ground"]
    known = care_plan.gather_context(orchard, today=date(2025, 12, 22))
    seen = measurements.read_measurements(known, [job], now=NOW)
    (day,) = (day for day in seen.ground.days.values() if day.rain_mm is not None)
    assert day.et0 is None and day.why_not
    assert seen.cover_by == ""


def test_a_heat_wave_is_prepared_for_the_young_the_potted_and_the_pruned(planned, cora):
    now = datetime(2026, 7, 10, 9, tzinfo=UTC)
    make_tree(planned, "A-1")
    # Pruned three weeks ago and three months ago; two months count: common practice.
    for code, days in (("A-4", 21), ("A-5", 90)):
        on = now - timedelta(days=days)
        skirt = make_task(
            make_tree(planned, code), "skirt", opens_on=on.date(), due_on=on.date()
        )
        close_task(skirt, by=cora, now=on, today=on.date(), evidence="Raised")
    # Pruning that was left undone bares no bark.
    skipped = make_task(
        make_tree(planned, "A-6"), "skirt", opens_on=TODAY, due_on=TODAY
    )
    close_task(
        skipped, by=cora, now=now, today=now.date(), how="skipped", reason="No loppers"
    )
    make_tree(planned, "P-1", setting="container")
    make_tree(planned, "A-3", born_on=None, planted_on=date(2025, 3, 1))
    for ahead, high in ((1, 38), (2, 40)):
        weather_files.note_forecast(
            planned,
            by=cora,
            now=now,
            today=now.date(),
            for_on=now.date() + timedelta(days=ahead),
            source="Town forecast",
            tmax=high,
        )
    tasks = Task.objects.open().filter(kind="care", key="heat_prep")
    assert {task.tree.code for task in tasks} == {"P-1", "A-3", "A-4"}
    assert {task.due_on for task in tasks} == {now.date()}
    assert "Expected: up to 40.0\xa0°C" in tasks[0].because


def test_every_column_of_a_file_has_its_place_in_the_table():
    for code, field in columns.DAYS.items():
        assert (field.column or code) in WeatherDay.MEASURED, code
    names = {field.name for field in Forecast._meta.get_fields()}
    for code, field in columns.FORECAST.items():
        assert (field.column or code) in names, code
