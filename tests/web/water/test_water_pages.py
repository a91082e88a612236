"""Water on the screen."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from orchard.records.models import (
    Crown,
    Soil,
    Task,
    Watering,
    WeatherDay,
)
from orchard.services import water
from tests.conftest import make_tree
from tests.web.outlook_days import days_up_to_yesterday, page


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
    assert "the crown width isn&#x27;t measured" in said
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
    assert "#pot_water" in said
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
    assert "rain missing" in said


def open_watering(tree, key="water_ground", *, is_of_block=False):
    today = timezone.localdate()
    return Task.objects.create(
        orchard=tree.orchard,
        block=tree.spot.block,
        rank=2,
        kind="care",
        key=key,
        occurrence="dry",
        title="Water this tree",
        opens_on=today - timedelta(days=1),
        due_on=today,
        rhythm_days=14,
        made_at=timezone.now(),
        tree=None if is_of_block else tree,
    )


def test_a_watering_withdrawn_says_that_the_work_is_open_again(as_vera, tree):
    slug = tree.orchard.slug
    task = open_watering(tree)
    told = {"tree": "A-1", "litres": "20", "given_on": timezone.localdate().isoformat()}
    as_vera.post(reverse("watering-new", args=[slug]), told)
    assert not Task.objects.open().exists()
    shown = page(as_vera, "task-show", tree.orchard, task.pk)
    assert "the water noted with it no longer counts" in shown
    url = reverse("watering-withdrawal", args=[slug, Watering.objects.get().pk])
    answer = as_vera.post(url, {"reason": "another tree"}, follow=True)
    assert "The task it closed is open again: Water this tree." in (
        answer.content.decode()
    )
    assert Task.objects.open().get() == task
    stale = as_vera.post(url, {"reason": "another tree"})
    assert stale.status_code == 422


def test_litres_for_a_block_without_a_drip_line_are_refused_on_the_form(as_vera, tree):
    task = open_watering(tree, key="valve_run", is_of_block=True)
    url = reverse("task-closure", args=[tree.orchard.slug, task.pk])
    form = as_vera.get(url).content.decode()
    assert "For each tree of the block on a drip line." in form
    told = {"done-done_on": timezone.localdate().isoformat(), "done-litres": "30"}
    answer = as_vera.post(url, told)
    assert answer.status_code == 422
    said = answer.content.decode()
    assert "No tree of this block is on a drip line" in said
    assert 'value="30"' in said
    assert Task.objects.open().get() == task


def test_litres_that_are_estimated_are_marked_and_the_mark_explained(
    as_vera, tree, cora
):
    orchard = tree.orchard
    days_up_to_yesterday(orchard, cora)
    today = timezone.localdate()
    water.set_soil(orchard, sort="sand", cover="bare", by=cora, now=timezone.now())
    water.measure_crown(
        tree, measured_on=today, width_m=3.0, by=cora, now=timezone.now(), today=today
    )
    soaked_on = today - timedelta(days=20)
    WeatherDay.objects.filter(on=soaked_on).update(rain_mm=300.0)
    assert "means that some days" not in page(as_vera, "outlook-water", orchard)
    WeatherDay.objects.filter(on=today - timedelta(days=6)).delete()
    said = page(as_vera, "outlook-water", orchard)
    assert "~ means that some days are estimated" in said
    gap = [today - timedelta(days=back) for back in range(6, 9)]
    WeatherDay.objects.filter(on__in=gap).delete()
    said = page(as_vera, "tree-water", orchard, tree.code)
    assert "Days are missing on record: the litres lie between" in said
