"""Tags: the sheet to print, and the list of them that phones keep."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from orchard.records.models import Tag
from orchard.services import trees
from tests.conftest import make_orchard, make_person, make_tree


@pytest.fixture
def page(orchard):
    def address(name, *args):
        return reverse(name, args=[orchard.slug, *args])

    return address


@pytest.fixture
def as_lee(client, lee):
    client.force_login(lee)
    return client


SHEET = {"which": "all", "paper": "a4", "per_page": "8"}


def test_a_sheet_carries_code_cultivar_and_square_of_every_tree(as_lee, page, orchard):
    make_tree(orchard, "A-1", kind="Valencia", believed=True)
    make_tree(orchard, "A-2")
    response = as_lee.post(page("tag-sheet"), SHEET)
    html = response.content.decode()
    assert response.status_code == 200
    assert "believed to be Valencia" in html
    assert html.count('class="qr"') == 2
    assert " style=" not in html
    assert Tag.objects.count() == 2


def test_printing_again_prints_the_same_tags(as_lee, page, tree):
    first = as_lee.post(page("tag-sheet"), SHEET).content
    assert as_lee.post(page("tag-sheet"), SHEET).content.count(
        b'class="qr"'
    ) == first.count(b'class="qr"')
    assert Tag.objects.count() == 1


def test_nothing_is_made_by_reading_a_page(as_lee, page, tree):
    assert as_lee.get(page("tag-sheet")).status_code == 302
    assert as_lee.get(page("tags")).status_code == 200
    assert not Tag.objects.exists()


@pytest.mark.parametrize(
    ("per_page", "sheets"), [("4", 3), ("8", 2), ("12", 1), ("21", 1)]
)
def test_as_many_tags_stand_on_a_sheet_as_chosen(
    as_lee, page, orchard, per_page, sheets
):
    for number in range(10):
        make_tree(orchard, f"A-{number}")
    html = as_lee.post(page("tag-sheet"), {**SHEET, "per_page": per_page}).content
    assert html.count(b'<ul class="tag-sheet') == sheets


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_paper_is_the_one_chosen(as_lee, page, tree, paper):
    html = as_lee.post(page("tag-sheet"), {**SHEET, "paper": paper}).content.decode()
    assert f'<ul class="tag-sheet on-{paper} of-8">' in html


def test_the_paper_offered_first_is_the_usual_one_of_the_units(client, db):
    for units, paper in (("us", "letter"), ("metric", "a4")):
        orchard = make_orchard(f"garden-{units}", units=units)
        make_tree(orchard)
        client.force_login(make_person(f"Lou{units}", orchard, "lead"))
        html = client.get(reverse("tags", args=[orchard.slug])).content.decode()
        checked = html.index(f'value="{paper}"')
        assert "checked" in html[checked : checked + 120]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"which": "blocks"}, "Tick at least one block."),
        ({"which": "codes"}, "Write at least one code."),
        ({"which": "codes", "codes": "A-1, Q-9"}, "has the code Q-9"),
        ({"paper": "a5"}, "not one of the available choices"),
        ({"per_page": "1000"}, "not one of the available choices"),
        ({"which": ""}, "required"),
    ],
)
def test_a_choice_that_means_no_tag_is_refused(as_lee, page, tree, changes, said):
    response = as_lee.post(page("tag-sheet"), {**SHEET, **changes})
    assert response.status_code == 422
    assert said in response.content.decode()


def test_trees_without_a_tag_are_printed_once(as_lee, page, orchard):
    make_tree(orchard, "A-1")
    as_lee.post(page("tag-sheet"), SHEET)
    make_tree(orchard, "A-2")
    html = as_lee.post(page("tag-sheet"), {**SHEET, "which": "none"}).content.decode()
    assert "A-2" in html
    assert 'class="tag-code">A-1' not in html
    again = as_lee.post(page("tag-sheet"), {**SHEET, "which": "none"})
    assert again.status_code == 422


def test_a_sheet_takes_the_same_queries_for_few_tags_and_many(as_lee, page, orchard):
    counts = []
    for many in (range(3), range(3, 40)):
        for number in many:
            make_tree(orchard, f"A-{number}")
        with CaptureQueriesContext(connection) as queries:
            as_lee.post(page("tag-sheet"), SHEET)
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_volunteers_print_no_tags_and_outsiders_see_none(
    client, vera, otto, page, tree
):
    client.force_login(vera)
    assert client.post(page("tag-sheet"), SHEET).status_code == 403
    client.force_login(otto)
    assert client.get(page("tags")).status_code == 404


def test_without_trees_the_page_says_so(as_lee, page):
    assert "No tree to tag." in as_lee.get(page("tags")).content.decode()


def test_the_list_of_tags_names_each_standing_tree_by_its_valid_tag(
    as_vera, orchard, southbank, tree, cora, now, page
):
    make_tree(southbank, "S-1")
    tag = trees.tag_of(tree, now=now)
    gone, retagged = make_tree(orchard, "A-2"), make_tree(orchard, "A-3")
    for other in (gone, retagged, make_tree(orchard, "A-4")):
        trees.tag_of(other, by=cora, now=now)
    fresh = trees.retag(retagged, by=cora, now=now, reason="Faded")
    today = now.date()
    trees.remove(gone, by=cora, now=now, today=today, on=today, reason="Canker")
    listed = as_vera.get(page("tag-codes")).json()
    assert sorted(listed.values()) == ["A-1", "A-3", "A-4"]
    assert (listed[tag.token], listed[fresh.token]) == ("A-1", "A-3")
