"""Nobody who is not named learns of a case: no page for visitors changes by one."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from orchard.services import cases, guide_sync, inspections, trees
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, make_tree

pytestmark = pytest.mark.django_db


@pytest.fixture
def suspect(tree, lee):
    def recorded(now=NOW):
        record = inspections.record(
            tree,
            by=lee,
            now=now,
            seen_at=now,
            findings=[SeenSign("psyllid_nymph", {"count": 2})],
        )
        return record.cases[0]

    return recorded


def test_a_trees_page_is_the_same_before_during_and_after_a_case(
    orchard, tree, suspect, cora, vera, monkeypatch
):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW + timedelta(hours=2))
    guide_sync.bring_up_to_date(orchard, NOW)
    make_tree(orchard, "A-2")
    inspections.record(
        tree,
        by=vera,
        now=NOW,
        seen_at=NOW,
        findings=[SeenSign("sucker", {"graft": "below", "woody": False})],
    )
    address = reverse("tag", args=[trees.tag_of(tree, now=NOW).token])

    def page():
        return Client().get(address).content.decode()

    before = page()
    assert "We are dealing with it." in before
    case = suspect(NOW + timedelta(hours=1))
    assert page() == before
    cases.close(case, by=cora, now=NOW + timedelta(hours=2), outcome="Found: confirmed")
    assert page() == before
