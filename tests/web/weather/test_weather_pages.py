"""Weather on its pages: a file looked through and taken in, readings, forecasts."""

from __future__ import annotations

import html as markup
import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from orchard.records.models import Forecast, Reading, Station, WeatherDay
from orchard.services.imports.weather_files import columns, saving
from orchard.web.pages.weather import story

HEADS = "date,tmin (°C),tmax (°C),rain (mm)"


@pytest.fixture
def address(orchard):
    return reverse("weather-file", args=[orchard.slug])


def file_of(*lines, heads=HEADS, name="days.csv"):
    text = "\n".join([heads, *lines])
    return SimpleUploadedFile(name, text.encode(), "text/csv")


def sending(*lines, heads=HEADS, **about):
    said = {"sort": "days", "station": "new", "name": "Hill", "source": "A record"}
    return {**said, **about, "file": file_of(*lines, heads=heads)}


def fields_of(response) -> dict[str, str]:
    """Return what a browser would send from the page as it stands."""
    page = response.content.decode()
    fields = {}
    for tag in re.findall(r'<input type="hidden"[^>]*>', page):
        name = re.search(r'name="([^"]*)"', tag)[1]
        if name != "csrfmiddlewaretoken":
            fields[name] = markup.unescape(re.search(r'value="([^"]*)"', tag)[1])
    for name, body in re.findall(
        r'<select[^>]* name="((?:column|unit)_\w+|only_station)">(.*?)</select>',
        page,
        re.S,
    ):
        chosen = re.search(r'<option value="([^"]*)" selected', body)
        fields[name] = markup.unescape(chosen[1]) if chosen else ""
    return fields


def page_of(response) -> str:
    return " ".join(markup.unescape(response.content.decode()).split())


# A file


def test_a_file_is_looked_through_then_taken_in(as_cora, orchard, address):
    shown = as_cora.post(address, sending("2026-04-01,7,19,0", "2026-04-03,8,20,"))
    page = page_of(shown)
    assert shown.status_code == 200
    assert "Nothing of days.csv is imported yet" in page
    assert "2 Apr 2026" in page and "They stay empty" in page
    assert "as the heading says" in page
    assert "Import 2 days" in page
    assert not WeatherDay.objects.exists()

    done = as_cora.post(address, {**fields_of(shown), "step": "take"}, follow=True)

    assert done.redirect_chain[0][0] == reverse("weather", args=[orchard.slug])
    assert "2 days are new." in page_of(done)
    assert Station.objects.get().name == "Hill"
    month = page_of(as_cora.get(done.redirect_chain[0][0], {"month": "2026-04"}))
    assert "No station has a row for this day" in month
    assert ">missing<" in month.replace("> ", ">").replace(" <", "<")
    assert "Hill: days.csv, row 2" in month


def test_an_open_unit_is_asked_and_the_answer_is_kept_apart(as_cora, address):
    heads = "date,min,max"
    shown = as_cora.post(address, sending("2026-04-01,41,50", heads=heads))
    assert "not certain" in page_of(shown)
    assert not re.search(r"Import \d", page_of(shown))
    fields = {**fields_of(shown), "unit_tmin": "°F", "unit_tmax": "°F"}
    straight = as_cora.post(address, {**fields, "step": "take"})
    assert straight.status_code == 422, "nobody has seen what this would do"
    assert "10 °C" in page_of(straight)
    done = as_cora.post(address, {**fields_of(straight), "step": "take"})
    assert done.status_code == 302
    day = WeatherDay.objects.get()
    assert (day.tmin, day.tmax) == (5.0, 10.0)


def test_a_bad_row_is_shown_with_its_number_and_stops_the_file(as_cora, address):
    shown = as_cora.post(address, sending("2026-04-01,9,4,0", "2026-04-02,8,20,0"))
    page = page_of(shown)
    assert "lowest temperature (9 °C) is above highest temperature (4 °C)" in page
    assert "row 2" in page
    assert not re.search(r"Import \d", page)
    refused = as_cora.post(address, {**fields_of(shown), "step": "take"})
    assert refused.status_code == 422
    assert not WeatherDay.objects.exists() and not Station.objects.exists()
    as_gaps = {**fields_of(shown), "as_gaps": "yes"}
    again = as_cora.post(address, {**as_gaps, "step": "look"})
    assert "left out and marked missing: the lowest is above the highest" in page_of(
        again
    )
    done = as_cora.post(address, {**fields_of(again), "as_gaps": "yes", "step": "take"})
    assert done.status_code == 302


def test_a_station_is_chosen_and_a_second_file_changes_nothing(
    as_cora, address, orchard, cora, now
):
    station = saving.add_station(orchard, by=cora, now=now, name="Hill", source="x")
    for _time in range(2):
        shown = as_cora.post(
            address, sending("2026-04-01,7,19,0", station=str(station.pk), name="")
        )
        as_cora.post(address, {**fields_of(shown), "step": "take"})
    assert "Everything in this file is here already" in page_of(shown)
    assert WeatherDay.objects.count() == 1


def test_nothing_comes_from_nowhere(as_cora, address):
    sent = as_cora.post(address, sending("2026-04-01,7,19,0", name="", source=""))
    assert sent.status_code == 422
    assert "Give the new station a name" in page_of(sent)
    assert "Say where the figures come from" in page_of(sent)


def test_a_file_of_another_kind_says_so(as_cora, address):
    said = sending()
    said["file"] = SimpleUploadedFile("a.pdf", b"%PDF-1.7 nothing")
    sent = as_cora.post(address, said)
    assert sent.status_code == 422
    assert "This is a PDF document" in page_of(sent)


def test_a_file_of_another_orchard_or_person_is_not_taken(
    client, cora, lee, address, as_cora
):
    shown = as_cora.post(address, sending("2026-04-01,7,19,0"))
    client.force_login(lee)
    sent = client.post(address, {**fields_of(shown), "step": "take"})
    assert sent.status_code == 422
    assert "damaged" in page_of(sent)


def test_a_strange_station_is_not_there(as_cora, address, southbank, otto, now):
    theirs = saving.add_station(southbank, by=otto, now=now, name="Dale", source="x")
    sent = as_cora.post(
        address, sending("2026-04-01,7,19,0", station=str(theirs.pk), name="")
    )
    assert sent.status_code == 422


# By hand


def test_a_reading_is_noted_in_the_orchards_units_and_withdrawn(as_vera, vera, orchard):
    type(orchard).objects.update(units="us")
    address = reverse("reading-new", args=[orchard.slug])
    page = page_of(as_vera.get(address))
    assert "<span>°F</span>" in page
    at = timezone.localtime(timezone.now(), timezone.get_fixed_timezone(0))
    sent = as_vera.post(
        address,
        {
            "what": "lowest",
            "celsius": "23",
            "at": f"{at - timedelta(hours=3):%Y-%m-%dT%H:%M}",
            "calm_clear": "yes",
        },
        follow=True,
    )
    reading = Reading.objects.get()
    assert reading.celsius == -5.0
    assert reading.calm_clear is True
    assert "23 °F" in page_of(sent)
    undo = reverse("reading-withdrawal", args=[orchard.slug, reading.pk])
    assert undo in sent.content.decode()
    gone = as_vera.post(undo, {"reason": "Wrong thermometer"}, follow=True)
    assert "Withdrawn: Wrong thermometer" in page_of(gone)


def test_a_forecast_is_noted_and_shown(as_cora, orchard):
    address = reverse("forecast-new", args=[orchard.slug])
    tomorrow = timezone.localdate() + timedelta(days=1)
    said = {
        "for_on": tomorrow.isoformat(),
        "source": "Town",
        "tmin": "2",
        "rain_mm": "4",
    }
    done = as_cora.post(address, said, follow=True)
    assert "Its tasks are on the board" in page_of(done)
    assert "lowest</th>" in page_of(done)
    assert Forecast.objects.get().tmin == 2
    assert 'value="Town"' in page_of(as_cora.get(address))


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({}, "Give at least one figure"),
        ({"tmin": "9", "tmax": "2"}, "swapped"),
        ({"tmin": "cold"}, "Give a number"),
        ({"tmin": "1", "source": ""}, "required"),
    ],
)
def test_a_forecast_that_cannot_be_is_refused(as_cora, orchard, values, said):
    address = reverse("forecast-new", args=[orchard.slug])
    sent = {"for_on": timezone.localdate().isoformat(), "source": "Town", **values}
    answer = as_cora.post(address, sent)
    assert answer.status_code == 422
    assert said in page_of(answer)


# The month


@pytest.mark.parametrize("asked", ["", "2026-13", "x", "9999-01", "0001-01"])
def test_a_month_that_makes_no_sense_shows_this_one(as_vera, orchard, asked):
    address = reverse("weather", args=[orchard.slug])
    answer = as_vera.get(address, {"month": asked})
    assert answer.status_code == 200
    assert f"{timezone.localdate():%Y}" in page_of(answer)


def test_a_month_is_read_in_a_fixed_number_of_queries(
    as_cora, orchard, cora, now, address, django_assert_max_num_queries
):
    rows = [f"2026-04-{day:02},7,19,0" for day in range(1, 31)]
    shown = as_cora.post(address, sending(*rows))
    as_cora.post(address, {**fields_of(shown), "step": "take"})
    page = reverse("weather", args=[orchard.slug])
    with django_assert_max_num_queries(14):
        month = as_cora.get(page, {"month": "2026-04"})
    assert "30 of 30 days" in page_of(month)


@pytest.mark.parametrize("fields", [columns.DAYS, columns.FORECAST])
def test_every_column_of_a_file_is_shown_in_its_unit(fields):
    for code, field in fields.items():
        assert story.UNITS[field.column or code] == field.stored, code
