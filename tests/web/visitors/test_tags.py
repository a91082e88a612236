"""A scanned tag: members go on to the tree, anybody else reads its public page."""

from __future__ import annotations

import pytest
from django.urls import reverse

from orchard.records.models import Inspection, Tag
from orchard.services import trees
from tests.conftest import make_spot, make_tree


@pytest.fixture
def page(orchard):
    def address(name, *args):
        return reverse(name, args=[orchard.slug, *args])

    return address


def scan(client, tag):
    return client.get(reverse("tag", args=[tag.token]))


@pytest.fixture
def tag(tree, now):
    return trees.tag_of(tree, now=now)


def test_a_member_goes_on_to_the_tree(as_vera, tag, page):
    assert scan(as_vera, tag).url == page("tree-show", "A-1")


def test_anybody_else_meets_the_tree_without_signing_in(client, otto, tag):
    for person in (None, otto):
        if person:
            client.force_login(person)
        response = scan(client, tag)
        assert response.status_code == 200
        html = response.content.decode()
        assert "Washington navel" in html
        assert "2016" in html
        assert "November to February" in html
        assert "Carrizo / Troyer citrange" in html
        assert html.count("<h1") == 1


def test_the_page_of_a_tag_is_small(client, tag):
    assert len(scan(client, tag).content) < 50_000


def test_the_page_of_a_tag_writes_nothing(client, tag):
    html = scan(client, tag).content.decode()
    assert "<form" not in html
    assert "<button" not in html
    assert client.post(reverse("tag", args=[tag.token])).status_code == 405


def test_the_page_of_a_tag_tells_no_place_no_person_and_no_finding(
    client, tag, tree, orchard, vera, now, today
):
    tree.note = "secret words"
    tree.save()
    spot = make_spot(orchard)
    spot.latitude, spot.longitude = "38.123456", "-8.654321"
    spot.save()
    Inspection.objects.create(
        orchard=orchard,
        tree=tree,
        by=vera,
        seen_on=today,
        seen_at=now,
        made_at=now,
        received_at=now,
        note="a suspected pest",
        has_private=True,
    )
    html = scan(client, tag).content.decode()
    for secret in ("38.12", "8.65", "38.5", "Vera", "suspected pest", "secret words"):
        assert secret not in html


def test_the_link_to_sign_in_comes_back_to_the_tag(client, tag):
    html = scan(client, tag).content.decode()
    assert f"/sign-in/?next=%2Ft%2F{tag.token}%2F" in html


def test_the_months_are_those_of_the_south_in_the_south(client, southbank, now):
    """Navels ripen late May to November there: Western Australia's calendar."""
    tree = make_tree(southbank)
    html = scan(client, trees.tag_of(tree, now=now)).content.decode()
    assert "May to August" in html


def test_a_temperature_stands_in_the_orchards_own_unit(client, tag, orchard):
    html = scan(client, tag).content.decode()
    assert "°C" in html
    orchard.units = "us"
    orchard.save()
    html = scan(client, tag).content.decode()
    assert "°F" in html
    assert "°C" not in html


def test_a_retired_tag_says_so_kindly(client, as_vera, tag, tree, cora, now, page):
    trees.retag(tree, by=cora, now=now, reason="faded")
    assert scan(as_vera, tag).url == page("tree-show", "A-1")
    client.logout()
    response = scan(client, tag)
    assert response.status_code == 200
    html = response.content.decode()
    assert "This tag was replaced" in html
    assert Tag.objects.get(retired_at=None).token not in html


def test_the_tag_of_a_removed_tree_says_that_it_stood_here(
    client, tag, tree, cora, now, today
):
    trees.remove(tree, by=cora, now=now, today=today, on=today, reason="wind")
    html = scan(client, tag).content.decode()
    assert "stood here until 2026" in html
    assert "wind" not in html


def test_the_tag_of_a_removed_tree_promises_nothing_and_leads_to_its_successor(
    client, tag, tree, cora, now, today
):
    assert "What is going on with it now" in scan(client, tag).content.decode()
    trees.remove(tree, by=cora, now=now, today=today, on=today, reason="wind")
    html = scan(client, tag).content.decode()
    assert "What is going on with it now" not in html
    assert "stands in its place" not in html
    newer = make_tree(tree.orchard, "A-9", spot=tree.spot, replaces=tree)
    hung = trees.tag_of(newer, now=now, by=cora)
    html = scan(client, tag).content.decode()
    assert "A-9 stands in its place" in html
    assert f"/t/{hung.token}/" in html


@pytest.mark.parametrize("token", ["x", "a" * 22, "%00", "../up"])
def test_an_unknown_tag_is_told_with_a_way_out(client, db, token):
    response = client.get(f"/t/{token}/")
    assert response.status_code == 404
    if token == "x":
        html = response.content.decode()
        assert "No tree has this tag" in html
        assert "Try to scan it again" in html


def test_an_own_kind_and_a_tree_nobody_knows_much_of_have_a_page_too(
    client, orchard, now
):
    kind = make_tree(orchard, "B-9", kind="Gate fig").kind
    kind.guide_key, kind.tender_class = "", ""
    kind.save()
    tree = make_tree(
        orchard, "B-2", kind=kind, planted_on=None, born_on=None, rootstock=""
    )
    html = scan(client, trees.tag_of(tree, now=now)).content.decode()
    assert html.count("not known") == 3
    assert "There is nothing to tell of it" in html
