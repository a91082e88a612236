"""Whatever is refused is refused in the units of the orchard, by hand and by file."""

from __future__ import annotations

import io
import re
from html import unescape

import pytest

from orchard.services import sun_hours
from tests.conftest import NOW, TODAY, make_orchard, make_person, make_spot, make_tree
from tests.services.tasks.test_tasks import make_task

OTHERS = {
    "us": re.compile(
        r"°C|\d mm\b|\bcm\b|\d m\b|\bm/s|km/h|\blit(?:re|er)s?\b|\d L\b|\bkg\b"
    ),
    "metric": re.compile(
        r"°F|\binch|\d in\b|\bft\b|\bfeet\b|\bgal|\bmph\b|\boz\b|\blb"
    ),
}
WEATHER = "date,low ({t}),high ({t}),rain ({r}),wind 2m ({w})\n"
UNITS = {
    "si": {"t": "°C", "r": "mm", "w": "m/s"},
    "us": {"t": "°F", "r": "in", "w": "mph"},
}


@pytest.fixture(params=["us", "metric"])
def units(request):
    return request.param


@pytest.fixture
def grove(db, units):
    return make_orchard(f"grove-{units}", units=units)


@pytest.fixture
def coordinator(grove, client):
    person = make_person("Uma", grove, "coordinator")
    client.force_login(person)
    return person


@pytest.fixture
def answered(grove, coordinator, client, units):
    """Post to a page of the orchard and return what it answers, read by a person."""

    def posted(path: str, **data: object) -> str:
        answer = client.post(f"/{grove.slug}/{path}", data)
        text = seen(answer.content.decode())
        found = OTHERS[units].findall(text)
        assert not found, f"{path} speaks of {found}: {text}"
        return text

    return posted


def seen(page: str) -> str:
    """Return the text of a page: no list to choose from, no heading of the file."""
    page = re.sub(r'(?s)<div class="columns">.*?<div class="deeds">', " ", page)
    page = re.sub(r"(?s)^.*<main[^>]*>|</main>.*$", "", page)
    page = re.sub(r"(?s)<(select|datalist|script)\b.*?</\1>", " ", page)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def upload(text: str) -> io.BytesIO:
    file = io.BytesIO(text.encode())
    file.name = "days.csv"
    return file


def test_a_reading_and_its_dew_point(answered):
    given = {"what": "now", "at": "2026-05-01T06:00", "calm_clear": ""}
    air = answered("weather/readings/", celsius="900", **given)
    assert "was never measured anywhere" in air and "900 " in air
    dew = answered("weather/readings/", celsius="10", dew_point="-700", **given)
    assert "-700 " in dew


@pytest.mark.parametrize(
    "field", ["tmin", "tmax", "dew_point", "wind", "cloud", "rain_mm"]
)
def test_each_figure_of_a_forecast(answered, field, client, grove):
    tomorrow = client.get(f"/{grove.slug}/weather/forecasts/")
    day = re.search(r'name="for_on" value="([\d-]+)"', tomorrow.content.decode())[1]
    for value in ("99999", "-99999"):
        text = answered(
            "weather/forecasts/", for_on=day, source="Invented", **{field: value}
        )
        assert "must be from" in text


def test_the_ground_and_the_water(answered, grove, units):
    make_tree(grove, "A-1", planted_on=None, born_on=None)
    soil = answered("soil/", sort="loam", cover="bare", depth_new_m="5000")
    assert "above 0, up to" in soil
    given = answered("waterings/", tree="A-1", litres="999999", given_on="2026-05-01")
    assert f"up to {'1320.86 gal' if units == 'us' else '5000 L'}" in given
    for figures in ({"width_m": "4000"}, {"width_m": "3", "height_m": "4000"}):
        crown = answered("trees/A-1/crown/", measured_on="2026-05-01", **figures)
        assert "above 0, up to" in crown


def test_water_noted_where_a_task_is_closed(answered, grove):
    task = make_task(make_tree(grove, "A-1"), key="water_ground")
    sent = {"how": "done", "done-done_on": TODAY, "done-litres": "999999"}
    text = answered(f"tasks/{task.pk}/closure/", **sent)
    assert "Enter the water for one tree: above 0, up to" in text


@pytest.mark.parametrize(
    ("field", "most"),
    [("distance", "3280.84"), ("height", "1640.42"), ("width", "3280.84")],
)
def test_an_obstacle_of_the_sun(coordinator, grove, client, units, field, most):
    spot = make_spot(grove, "7")
    around = [(0, 5), (90, 5), (180, 5), (270, 5)]
    sun_hours.survey_horizon(
        spot, surveyed_on=TODAY, points=around, by=coordinator, now=NOW, today=TODAY
    )
    asked = {"towards": "180", "distance": "4", "height": "4", "width": "4"}
    for value in ("99999", "-5"):
        page = client.get(f"/{grove.slug}/spots/{spot.pk}/sun/", asked | {field: value})
        assert page.status_code == 200
        text = seen(page.content.decode())
        form = text.partition("Possible is")[2].partition(". ")[0]
        highest = (
            f"{most} ft" if units == "us" else f"{500 if field == 'height' else 1000} m"
        )
        assert form.endswith(f"to {highest}"), text
        assert "would be lost in the worst month" not in text


def test_a_container_by_hand(answered, grove):
    spot = make_spot(grove, "7")
    kind = make_tree(grove, "A-1").kind
    new = {
        "code": "A-7",
        "spot": str(spot),
        "kind": kind.pk,
        "container_litres": "90000",
    }
    assert "up to" in answered("trees/new/", setting="container", **new)
    assert "Only a container" in answered("trees/new/", setting="ground", **new)


def test_the_temperature_of_juice(answered, grove):
    make_tree(grove, "A-1")
    text = answered(
        "ripeness-tests/",
        tree="A-1",
        tested_on="2026-05-01",
        fruits="5",
        brix_read="11",
        juice_c="900",
    )
    assert "900 " in text and "can't be right" in text


def test_a_frost_night(answered):
    text = answered(
        "outlook/nights/", ended_on="2026-05-01", lowest="60", hours_check="5"
    )
    assert "days ago" in text or "get that cold" in text


@pytest.mark.parametrize("file_units", ["si", "us"])
@pytest.mark.parametrize(
    "row", ["900,20,0,1", "1,-900,0,1", "1,20,88888,1", "1,20,0,8888", "60,40,0,1"]
)
def test_a_weather_file_in_whichever_units(answered, row, file_units):
    text = WEATHER.format(**UNITS[file_units]) + f"2026-05-01,{row}\n"
    page = answered(
        "weather/file/",
        file=upload(text),
        sort="days",
        station="new",
        name="Hill",
        source="Invented",
    )
    page = page.partition("What each column")[0] + page.partition("Rows to look at")[2]
    assert "can't be right" in page or "is above" in page or "not certain" in page


@pytest.mark.parametrize("size", ["9000000", "12 barrels", "1,500"])
def test_a_container_of_a_register(answered, size):
    text = f'code,cultivar,block,spot,pot size\nA-1,Meyer,A,1,"{size}"\n'
    page = answered("register/", file=upload(text))
    assert (
        "Enter a container size" in page
        or "isn't a container size" in page
        or "two ways" in page
    )


def test_a_register_that_differs_from_the_book(answered, grove):
    make_tree(grove, "A-1", setting="container", container_litres="50")
    text = "code,cultivar,block,spot,pot size\nA-1,Washington navel,A,1,200 L\n"
    page = answered("register/", file=upload(text.replace("200 L", "99")))
    assert "is here already, but differs" in page
