"""Frost on the screen."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orchard.records.models import (
    CarePlan,
    Happening,
    Reading,
    Station,
    Task,
    WeatherDay,
)
from orchard.services import tasks, trees
from tests.web.outlook_days import cold_tomorrow, page


def test_trees_to_cover_are_listed_with_caution_and_limit(as_vera, tree, cora):
    cold_tomorrow(tree.orchard, cora)
    said = page(as_vera, "outlook-frost", tree.orchard)
    assert tree.code in said
    assert "RCD or GFCI" in said
    assert "licensed electrician" in said
    assert "Open the tasks now" not in said


def test_a_typed_evening_draws_the_night_with_its_table(as_vera, tree, cora):
    cold_tomorrow(tree.orchard, cora)
    assert "<polyline" not in page(as_vera, "outlook-frost", tree.orchard)
    said = page(as_vera, "outlook-frost", tree.orchard, evening="6")
    assert "<polyline" in said
    assert "Hours at or below" in said
    assert "°C" in said


def test_the_outlook_reads_in_the_orchards_own_units(as_vera, tree, cora):
    tree.orchard.units = "us"
    tree.orchard.save()
    cold_tomorrow(tree.orchard, cora)
    # 50 °F is 10 °C, -3 °C is 26.6 °F.
    said = page(as_vera, "outlook-frost", tree.orchard, evening="50")
    assert "26.6\u00a0°F" in said
    assert "From 50.0 °F" in said
    assert "°C" not in said


def test_a_crew_lead_opens_the_tasks_now(client, lee, tree, cora):
    client.force_login(lee)
    answer = client.post(reverse("frost-work", args=[tree.orchard.slug]), follow=True)
    assert "Nothing new" in answer.content.decode()


def test_the_night_is_noted_in_own_units_and_fruit_is_cut(as_vera, tree):
    tree.orchard.units = "us"
    tree.orchard.save()
    today = timezone.localdate()
    answer = as_vera.post(
        reverse("night-new", args=[tree.orchard.slug]),
        {"ended_on": today.isoformat(), "lowest": "26.6", "hours_check": "5"},
    )
    assert answer.status_code == 302
    assert Reading.objects.get().celsius == pytest.approx(-3.0)
    assert Happening.objects.get().what == "hard_frost"


def test_hours_a_night_did_not_reach_are_refused_on_the_form(as_vera, orchard):
    answer = as_vera.post(
        reverse("night-new", args=[orchard.slug]),
        {
            "ended_on": timezone.localdate().isoformat(),
            "lowest": "1",
            "hours_check": "5",
        },
    )
    assert answer.status_code == 422
    assert "get that cold" in answer.content.decode()


def test_cover_off_not_marked_is_read_by_who_comes_in_after_ten(
    client, tree, vera, lee
):
    # Acceptance scenario "Cover off": the pair is told, each by name.
    yesterday = timezone.localdate() - timedelta(days=1)
    opened = {"opens_on": yesterday, "due_on": yesterday}
    on = cover_task(tree, "frost_cover_on", taken_by=lee, **opened)
    tasks.close(on, by=vera, now=timezone.now(), today=yesterday, evidence="a photo")
    cover_task(tree, "frost_cover_off", **opened)
    client.force_login(vera)
    said = page(client, "home", tree.orchard)
    assert "Covers still on after 10:00" in said
    assert "covered by Vera, Lee" in said
    # Orlando Sentinel (2022): uncover only once it is above freezing.
    said = page(client, "outlook-frost", tree.orchard)
    assert "or at 10:00 if it is above 0 °C by then" in said
    assert "Take the cover off now, unless it still freezes." in said


def cover_task(tree, key, **more):
    return Task.objects.create(
        orchard=tree.orchard,
        tree=tree,
        block=tree.spot.block,
        kind="care",
        rank=2,
        key=key,
        occurrence="night",
        title="Covers",
        rhythm_days=1,
        made_at=timezone.now(),
        **more,
    )


def test_the_night_has_its_name_on_the_frost_page_and_on_the_tag(
    client, as_vera, tree, cora
):
    cold_tomorrow(tree.orchard, cora)
    said = page(as_vera, "outlook-frost", tree.orchard)
    name = found_name(said)
    tag = trees.tag_of(tree, now=timezone.now())
    client.logout()
    public = client.get(reverse("tag", args=[tag.token])).content.decode()
    # Visitors are promised what the plan has, and nothing else.
    assert f"the night to {name}" not in public
    CarePlan.objects.create(
        orchard=tree.orchard, job="frost_cover_on", set_by=cora, set_at=timezone.now()
    )
    public = client.get(reverse("tag", args=[tag.token])).content.decode()
    assert f"the night to {name}" in public


def found_name(said):
    return re.search(r"The night to (\w+day)", said)[1]


def test_a_doubted_forecast_is_confirmed_with_a_tick(client, cora, tree):
    client.force_login(cora)
    today = timezone.localdate()
    station = Station.objects.create(
        orchard=tree.orchard,
        name="Gate",
        source="own",
        made_by=cora,
        made_at=tree.entered_at,
    )
    for back in (*range(1, 14), *range(355, 366)):
        WeatherDay.objects.create(
            station=station,
            on=today - timedelta(days=back),
            tmin=2,
            tmax=9,
            by=cora,
            received_at=tree.entered_at,
        )
    asked = {
        "for_on": (today + timedelta(days=1)).isoformat(),
        "source": "Town",
        "tmin": "28",
    }
    url = reverse("forecast-new", args=[tree.orchard.slug])
    assert 'type="checkbox"' not in client.get(url).content.decode()
    doubted = client.post(url, asked)
    assert doubted.status_code == 422
    assert "far from what this place has" in doubted.content.decode()
    assert 'type="checkbox" name="is_confirmed"' in doubted.content.decode()
    assert client.post(url, {**asked, "is_confirmed": "on"}).status_code == 302
