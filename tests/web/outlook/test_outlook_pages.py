"""The outlook: one line for each matter."""

from __future__ import annotations

from django.urls import reverse
from django.utils import timezone

from orchard.records.models import (
    Soil,
    Task,
)
from tests.conftest import make_tree
from tests.web.outlook_days import cold_tomorrow, days_up_to_yesterday, page


def test_an_empty_orchard_is_told_what_is_missing(as_vera, orchard):
    said = page(as_vera, "outlook", orchard)
    assert "No minimum is forecast" in said
    assert "No full bloom recorded yet" in said
    assert "No horizon is surveyed yet" in said
    for name in ("outlook-frost", "outlook-heat", "outlook-water", "outlook-sun"):
        assert page(as_vera, name, orchard)


def test_each_matter_has_a_verdict_word_and_opens_its_page(as_cora, tree, cora):
    cold_tomorrow(tree.orchard, cora)
    days_up_to_yesterday(tree.orchard, cora)
    address = reverse("outlook", args=[tree.orchard.slug])
    answer = as_cora.get(address)
    matters = answer.context["matters"]
    assert [matter.label for matter in matters] == [
        "Tonight",
        "Water",
        "Next flush",
        "Ripe now",
        "Sun",
    ]
    assert matters[0].word == "Cover"
    assert matters[0].text == "1 tree reaches its limit."
    page_text = answer.content.decode()
    for matter in matters:
        assert matter.word and matter.text
        assert reverse(matter.name, args=[tree.orchard.slug]) in page_text


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
