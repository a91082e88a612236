"""The page of a tree's feeding."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from orchard.records.models import Crown
from tests.conftest import NOW

pytestmark = pytest.mark.django_db


def test_the_page_says_first_whether_to_feed(tree, vera):
    client = Client()
    client.force_login(vera)
    url = reverse("tree-feeding", args=["alderbrook", tree.code])
    text = client.get(url).content.decode()
    assert "No feed now" in text
    assert "measure its crown first" in text
    Crown.objects.create(
        orchard=tree.orchard, tree=tree, measured_on=NOW.date(), width_m=2.0, by=vera,
        received_at=NOW,
    )  # fmt: skip
    text = client.get(url).content.decode()
    assert "62.8" in text
    assert "never feed a dry tree" in text
    tree_page = reverse("tree-show", args=["alderbrook", tree.code])
    assert url in client.get(tree_page).content.decode()
