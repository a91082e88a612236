"""The form for any tree: what it knows, and what it does not claim to know."""

from __future__ import annotations

import json
import re

import pytest

from orchard.records.models import Kind
from orchard.science import guide
from orchard.services import facts
from tests.conftest import TODAY

pytestmark = pytest.mark.django_db

BLANK = "/alderbrook/inspections/blank/"


def outcomes(client, address):
    page = client.get(address).content.decode()
    return json.loads(
        re.search(r'<script id="outcomes" [^>]*>(.*?)</script>', page, re.DOTALL)[1]
    )


def test_it_stands_behind_its_scripts_and_names_no_tree(as_vera, tree):
    page = as_vera.get(BLANK).content.decode()
    assert re.search(r'<div data-blank="ANY-TREE"[^>]* hidden>', page)
    assert "A-1" not in page
    assert "This tree's own form is not on this phone." in page


def test_a_code_leads_to_the_trees_own_form_while_there_is_signal(as_vera, tree):
    answer = as_vera.get(BLANK, {"tree": "a-1"})
    assert answer.url == "/alderbrook/trees/A-1/inspections/new/"


def test_a_code_that_no_tree_has_is_said(as_vera, tree):
    answer = as_vera.get(BLANK, {"tree": "z-99"})
    assert answer.status_code == 404
    assert "No tree here has the code Z-99. Check its tag." in answer.content.decode()


def test_it_has_the_signs_of_every_sort_of_tree_that_is_grown(as_vera, tree):
    Kind.objects.create(orchard=tree.orchard, name="Peach", host="stone")
    told = outcomes(as_vera, BLANK)["signs"]
    signs = guide.load().signs.values()
    assert set(told) == {
        sign.key for sign in signs if sign.fits("citrus") or sign.fits("stone")
    }


def test_it_claims_nothing_about_the_tree(tree):
    ground = facts.gather_for_any(tree.orchard, on=TODAY)
    own = facts.gather(tree, on=TODAY)
    for sign in guide.load().signs.values():
        known, all_of_it = ground.facts(sign), own.facts(sign)
        assert known.items() <= all_of_it.items(), sign.key
        assert not known.keys() & {"age_y", "planted_d", "setting", "trend", "host"}
