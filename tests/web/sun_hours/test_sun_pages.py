"""Sun on the screen."""

from __future__ import annotations

from django.urls import reverse
from django.utils import timezone

from orchard.records.models import (
    Horizon,
)
from orchard.web.pages.sun_hours import views
from orchard.web.pages.sun_hours.forms import COMPASS
from tests.conftest import make_spot
from tests.web.outlook_days import page


def survey(client, orchard, spot, *, height="10", **more):
    angles = {f"at_{number}": height for number in range(COMPASS)}
    data = {"surveyed_on": timezone.localdate().isoformat(), **angles, **more}
    return client.post(reverse("horizon-new", args=[orchard.slug, spot.pk]), data)


def test_a_horizon_is_typed_and_drawn(as_vera, orchard):
    spot = make_spot(orchard, "4")
    assert survey(as_vera, orchard, spot, declination="2").status_code == 302
    row = Horizon.objects.get()
    assert row.points[0] == [2.0, 10.0]
    said = page(as_vera, "spot-sun", orchard, spot.pk)
    assert said.count("<svg viewBox") >= 2
    assert "needed in every month" in said
    assert "january" in said.lower()


def test_a_wall_that_is_not_there_shows_what_it_would_take(as_vera, orchard):
    spot = make_spot(orchard, "4")
    survey(as_vera, orchard, spot, height="0")
    said = page(
        as_vera,
        "spot-sun",
        orchard,
        spot.pk,
        towards="180",
        distance="4",
        height="4",
        width="10",
    )
    assert "would be lost in the worst month" in said
    assert "With it" in said


def test_three_directions_are_too_few(as_vera, orchard):
    spot = make_spot(orchard, "4")
    data = {"surveyed_on": timezone.localdate().isoformat(), "at_0": 1, "at_4": 2}
    answer = as_vera.post(reverse("horizon-new", args=[orchard.slug, spot.pk]), data)
    assert answer.status_code == 422
    assert "at least 4 directions" in answer.content.decode()
    assert not Horizon.objects.exists()


def test_a_spot_of_another_orchard_is_not_there(as_vera, orchard, southbank):
    spot = make_spot(southbank, "4")
    url = reverse("spot-sun", args=[orchard.slug, spot.pk])
    assert as_vera.get(url).status_code == 404


def test_many_spots_come_in_pages_surveyed_ones_first(as_vera, orchard, monkeypatch):
    monkeypatch.setattr(views, "SPOTS_SHOWN", 2)
    spots = [make_spot(orchard, str(number)) for number in range(1, 6)]
    for spot in spots[3:]:
        survey(as_vera, orchard, spot)
    address = reverse("outlook-sun", args=[orchard.slug])
    seen, heads = [], []
    while address:
        answer = as_vera.get(address)
        shown = [*answer.context["surveyed"], *answer.context["rest"]]
        seen.append([row.spot.number for row in shown])
        text = answer.content.decode()
        heads.append(("Surveyed spots" in text, "Not surveyed yet" in text))
        assert "3 spots" in text or not answer.context["rest"]
        address = answer.context["later_url"]
    assert seen == [["4", "5"], ["1", "2"], ["3"]]
    assert heads == [(True, False), (False, True), (False, True)]
