"""Places named in one line: the trees that codes name, and how many."""

from __future__ import annotations

import pytest

from orchard.services import tasks
from tests.conftest import make_tree

pytestmark = pytest.mark.django_db


@pytest.fixture
def blocks(orchard):
    for number in range(1, 5):
        make_tree(orchard, f"A-{number}")
    for number in range(1, 13):
        make_tree(orchard, f"B-{number}")
    return orchard


@pytest.mark.parametrize(
    ("codes", "text"),
    [
        (["B"], "12 trees of block B"),
        (["B", "B-2"], "12 trees of block B"),
        (["A", "B"], "16 trees of 2 blocks"),
        (["A-2", "A-1"], "A-1, A-2"),
        (["A-1", "A-2", "A-3", "A-4"], "4 trees of block A"),
        (["B", "Q-7"], ""),
        ([], ""),
    ],
)
def test_codes_are_named_in_one_line(blocks, codes, text):
    assert tasks.name_places(blocks, codes) == text


def test_it_is_one_query_and_sees_no_other_orchard(
    blocks, southbank, django_assert_num_queries
):
    make_tree(southbank, "C-1")
    with django_assert_num_queries(1):
        assert tasks.name_places(blocks, ["B"]) == "12 trees of block B"
    assert tasks.name_places(blocks, ["C-1"]) == ""
