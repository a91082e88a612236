from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orchard.records.models import (
    Crown,
    Forecast,
    Happening,
    Horizon,
    Reading,
    Soil,
    Station,
    Task,
    Watering,
    WeatherDay,
)
from orchard.services import tasks
from orchard.web import explain
from orchard.web.explain import computed
from orchard.web.pages.sun_hours.forms import COMPASS
from tests.conftest import make_spot, make_tree


def page(client, name, orchard, *args, **query):
    answer = client.get(reverse(name, args=[orchard.slug, *args]), query)
    assert answer.status_code == 200
    return answer.content.decode()


def days_up_to_yesterday(orchard, by, count=40, **more):
    station = Station.objects.create(
        orchard=orchard, name="Gate", source="own", made_by=by, made_at=timezone.now()
    )
    today = timezone.localdate()
    WeatherDay.objects.bulk_create(
        WeatherDay(
            station=station,
            on=today - timedelta(days=back),
            tmin=9.0,
            tmax=24.0,
            by=by,
            received_at=timezone.now(),
            **{"rain_mm": 0.0, **more},
        )
        for back in range(1, count + 1)
    )


def cold_tomorrow(orchard, by, low=-3.0):
    for ahead in (0, 1):
        Forecast.objects.create(
            orchard=orchard,
            for_on=timezone.localdate() + timedelta(days=ahead),
            made_at=timezone.now(),
            source="the weather service",
            tmin=low,
            tmax=12.0,
            by=by,
            received_at=timezone.now(),
        )


def test_an_empty_orchard_is_told_what_is_missing(as_vera, orchard):
    said = page(as_vera, "outlook", orchard)
    assert "No minimum is forecast" in said
    assert "No full bloom is noted yet" in said
    assert "No horizon is surveyed yet" in said
    for name in ("outlook-frost", "outlook-heat", "outlook-water", "outlook-sun"):
        assert page(as_vera, name, orchard)


def test_every_number_has_its_inputs_and_source_one_tap_away(as_cora, tree, cora):
    orchard = tree.orchard
    cold_tomorrow(orchard, cora)
    days_up_to_yesterday(orchard, cora)
    for name in ("outlook-frost", "outlook-water"):
        said = page(as_cora, name, orchard)
        numbers = re.findall(r'<div class="explained">(.*?)</div>', said, re.DOTALL)
        known = [one for one in numbers if "explained-figure" in one]
        assert known
        for one in known:
            assert "How this comes about" in one
            assert "Source:" in one


def test_the_way_to_a_formula_leads_to_where_it_stands(as_cora, tree, cora):
    cold_tomorrow(tree.orchard, cora)
    said = page(as_cora, "outlook-frost", tree.orchard)
    anchors = re.findall(r'href="[^"]*/computed/#([^"]+)"', said)
    assert "night-site_offset" in anchors
    formulas = page(as_cora, "computed", tree.orchard)
    for anchor in anchors:
        assert f'id="{anchor}"' in formulas


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
    assert "did not get that cold" in answer.content.decode()


def test_the_coordinator_says_what_the_ground_is_like(as_cora, orchard):
    answer = as_cora.post(
        reverse("soil", args=[orchard.slug]), {"sort": "sand", "cover": "covered"}
    )
    assert answer.status_code == 302
    assert Soil.objects.get().sort == "sand"
    assert "Counted for sand" in page(as_cora, "outlook-water", orchard)


def test_a_watering_is_noted_for_a_tree_or_a_block(as_vera, tree):
    make_tree(tree.orchard, "A-2")
    today = timezone.localdate().isoformat()
    url = reverse("watering-new", args=[tree.orchard.slug])
    as_vera.post(url, {"tree": "a-1", "litres": "20", "given_on": today})
    assert Watering.objects.get().tree == tree
    block = tree.spot.block_id
    as_vera.post(url, {"block": block, "litres": "5.5", "given_on": today})
    assert Watering.objects.filter(litres=5.5).count() == 2
    said = page(as_vera, "tree-water", tree.orchard, tree.code)
    assert "20.0\u00a0L" in said


def test_a_watering_of_no_tree_or_of_two_places_is_refused(as_vera, tree):
    today = timezone.localdate().isoformat()
    url = reverse("watering-new", args=[tree.orchard.slug])
    none = as_vera.post(url, {"litres": "20", "given_on": today})
    assert none.status_code == 422
    unknown = as_vera.post(url, {"tree": "Z-9", "litres": "20", "given_on": today})
    assert "There is no tree Z-9" in unknown.content.decode()
    assert not Watering.objects.exists()


def test_a_crown_is_measured_in_own_units(as_vera, tree):
    tree.orchard.units = "us"
    tree.orchard.save()
    as_vera.post(
        reverse("crown-new", args=[tree.orchard.slug, tree.code]),
        {"width_m": "10", "measured_on": timezone.localdate().isoformat()},
    )
    assert Crown.objects.get().width_m == pytest.approx(3.048)


def test_the_page_of_a_pot_shows_litres_its_picture_and_how_they_come_about(
    as_vera, orchard, cora
):
    days_up_to_yesterday(orchard, cora)
    pot = make_tree(orchard, "B-1", setting="container", container_litres=40)
    said = page(as_vera, "tree-water", orchard, pot.code)
    assert "Water in the pot" in said
    assert "the width of the crown is not measured" in said
    assert "<svg" not in said.partition('id="ground"')[2].partition('id="log"')[0]
    today = timezone.localdate()
    told = {"width_m": "1", "measured_on": today.isoformat()}
    as_vera.post(reverse("crown-new", args=[orchard.slug, pot.code]), told)
    given_on = (today - timedelta(days=3)).isoformat()
    told = {"tree": pot.code, "litres": "12", "given_on": given_on}
    as_vera.post(reverse("watering-new", args=[orchard.slug]), told)
    said = page(as_vera, "tree-water", orchard, pot.code)
    assert "missing in the pot" in said
    assert "De Boodt" in said
    assert "#containers-container_balance" in said
    assert "The balance is an estimate" in said


def test_a_pot_is_shown_in_the_orchards_own_units_and_its_older_water_is_folded(
    as_vera, orchard, cora
):
    orchard.units = "us"
    orchard.save()
    days_up_to_yesterday(orchard, cora)
    pot = make_tree(orchard, "B-1", setting="container", container_litres=40)
    today = timezone.localdate()
    told = {"width_m": "3.3", "measured_on": today.isoformat()}
    as_vera.post(reverse("crown-new", args=[orchard.slug, pot.code]), told)
    for back in range(1, 8):
        given_on = (today - timedelta(days=back)).isoformat()
        told = {"tree": pot.code, "litres": "4", "given_on": given_on}
        as_vera.post(reverse("watering-new", args=[orchard.slug]), told)
    said = page(as_vera, "tree-water", orchard, pot.code)
    # 4 US gallons are 15.1 L, more than the 9.6 L a pot of 40 L holds for roots.
    assert "4.0\u00a0gal" in said
    assert "\u00a0L<" not in said
    assert said.index("Earlier waterings") > said.index('id="log"')


def test_a_missing_day_is_named_on_the_page(as_vera, tree, cora):
    days_up_to_yesterday(tree.orchard, cora)
    gap = timezone.localdate() - timedelta(days=3)
    WeatherDay.objects.filter(on=gap).update(rain_mm=None)
    said = page(as_vera, "outlook-water", tree.orchard)
    assert "No data for:" in said
    assert "rain missing" in said


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
    assert "would be taken in the worst month" in said
    assert "With it" in said


def test_three_directions_are_too_few(as_vera, orchard):
    spot = make_spot(orchard, "4")
    data = {"surveyed_on": timezone.localdate().isoformat(), "at_0": 1, "at_4": 2}
    answer = as_vera.post(reverse("horizon-new", args=[orchard.slug, spot.pk]), data)
    assert answer.status_code == 422
    assert "at least four directions" in answer.content.decode()
    assert not Horizon.objects.exists()


def test_a_spot_of_another_orchard_is_not_there(as_vera, orchard, southbank):
    spot = make_spot(southbank, "4")
    url = reverse("spot-sun", args=[orchard.slug, spot.pk])
    assert as_vera.get(url).status_code == 404


def test_the_page_of_formulas_is_read_from_docstrings_and_tests(as_vera, orchard):
    said = page(as_vera, "computed", orchard)
    assert "Baskerville, G. L. &amp; Emin, P. (1969)" in said
    assert "against a reference library" in said
    assert "Sums reckoned once are those of each start" in said
    by_anchor = {
        one.anchor: one for chapter in explain.chapters() for one in chapter.formulas
    }
    night = by_anchor["night-fit_night_minimum"]
    assert "Snyder" in night.source
    assert night.checks
    unchecked = [
        one.anchor for one in by_anchor.values() if not one.checks and not one.source
    ]
    assert len(unchecked) < len(by_anchor) / 10


def test_a_docstring_is_taken_apart_by_its_heads():
    summary, parts = computed.sections_of(
        "Return it.\n\nParameters\n----------\na : one\n\nReferences\n----------\nX."
    )
    assert summary == "Return it."
    assert parts == {"Parameters": "a : one", "References": "X."}
    assert computed.sections_of("Return it. By X (1990).") == (
        "Return it.",
        {"References": "By X (1990)."},
    )


def test_the_menu_leads_to_the_outlook(as_vera, orchard):
    said = page(as_vera, "home", orchard)
    assert reverse("outlook", args=[orchard.slug]) in said


def test_the_pages_take_as_many_queries_for_many_trees(
    as_cora, tree, cora, django_assert_max_num_queries
):
    orchard = tree.orchard
    cold_tomorrow(orchard, cora)
    days_up_to_yesterday(orchard, cora)
    Soil.objects.create(
        orchard=orchard, sort="loam", cover="bare", by=cora, set_at=timezone.now()
    )
    for number in range(2, 25):
        make_tree(orchard, f"A-{number}")
    for name in ("outlook-frost", "outlook-water", "outlook-heat", "outlook-sun"):
        with django_assert_max_num_queries(40):
            page(as_cora, name, orchard)
    assert not Task.objects.exists()


def test_cover_off_not_marked_is_read_by_who_comes_in_after_ten(
    client, tree, vera, lee
):
    # Acceptance scenario "Cover off": the pair is told, each by name.
    yesterday = timezone.localdate() - timedelta(days=1)
    opened = {"opens_on": yesterday, "due_on": yesterday}
    on = cover_task(tree, "job:frost_cover_on", taken_by=lee, **opened)
    tasks.close(on, by=vera, now=timezone.now(), today=yesterday, evidence="a photo")
    cover_task(tree, "job:frost_cover_off", **opened)
    client.force_login(vera)
    said = page(client, "home", tree.orchard)
    assert "Covers still on after 10:00" in said
    assert "covered by Vera, Lee" in said


def cover_task(tree, what, **more):
    return Task.objects.create(
        orchard=tree.orchard,
        tree=tree,
        block=tree.spot.block,
        sort="care",
        rank=2,
        what=what,
        subject=f"tree:{tree.pk}",
        occurrence="night",
        title="Covers",
        rhythm_days=1,
        made_at=timezone.now(),
        **more,
    )
