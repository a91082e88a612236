"""What is shown to one reader is kept by no cache on the way to others."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from tests.web.test_who_may import INSIDE, NO, things  # noqa: F401

pytestmark = pytest.mark.django_db


def test_no_page_inside_is_kept_for_others(things):  # noqa: F811
    client = Client()
    shared = {}
    for row in INSIDE:
        if row.get == NO:
            continue
        client.force_login(things.people["C" if "C" in row.get else "V"])
        answer = client.get(reverse(row.name, args=["alderbrook", *row.args(things)]))
        kept = answer["Cache-Control"]
        if "private" not in kept and "no-store" not in kept:
            shared[row.label] = kept
    assert shared == {}


def test_nor_is_a_tags_page_which_is_another_for_a_member(things):  # noqa: F811
    address = reverse("tag", args=[things.tag.token])
    assert Client().get(address)["Cache-Control"] == "private"
