"""Long lists in pages: every row once, in order, whatever the key says."""

from __future__ import annotations

from datetime import date

import pytest

from orchard.records.models import Tree
from orchard.services.paging import page_by_key
from tests.conftest import make_tree

ORDER = ("-planted_on", "id")


@pytest.fixture
def planted(orchard):
    days = [date(2024, 3, day) for day in (5, 7, 7, 7, 2)]
    return [
        make_tree(orchard, f"A-{number}", planted_on=day)
        for number, day in enumerate(days, start=1)
    ]


def page_after(key, size=2):
    return page_by_key(Tree.objects.all(), *ORDER, after=key, size=size)


def test_pages_show_every_row_once_and_the_last_has_no_key(planted):
    codes, key, pages = [], "", 0
    while pages == 0 or key:
        page = page_after(key)
        codes += [tree.code for tree in page.rows]
        key, pages = page.next_key, pages + 1
    assert codes == ["A-2", "A-3", "A-4", "A-1", "A-5"]
    assert pages == 3


def test_a_row_added_above_shifts_nothing(planted, orchard):
    first = page_after("")
    make_tree(orchard, "A-9", planted_on=date(2024, 4, 1))
    second = page_after(first.next_key)
    assert [tree.code for tree in second.rows] == ["A-4", "A-1"]


def test_a_page_that_is_just_full_is_the_last(planted):
    assert page_after("", size=5).next_key == ""
    assert page_after("", size=4).next_key != ""


@pytest.mark.parametrize(
    "key",
    [
        "x",
        "2024-03-07",
        "2024-03-07.1.2",
        "5.2024-03-07",
        "2024-13-01.3",
        "\0",
        "9" * 99,
    ],
)
def test_a_key_that_makes_no_sense_starts_from_the_top(planted, key):
    assert page_after(key) == page_after("")
