"""Several figures by one question: each is what its own list says."""

from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.records.models import Inspection, Membership, Tree
from orchard.services import inspections
from orchard.services.counts import count_together
from tests.conftest import NOW, make_tree

pytestmark = pytest.mark.django_db


def test_counts_are_those_of_the_lists_in_one_query(
    orchard, southbank, tree, vera, django_assert_num_queries
):
    other = make_tree(orchard, "B-2")
    make_tree(southbank, "A-1")
    for ago, seen in enumerate((tree, tree, other)):
        at = NOW - timedelta(hours=ago)
        inspections.record(seen, by=vera, now=NOW, seen_at=at, all_well=True)
    looks = Inspection.objects.in_orchard(orchard)
    lists = {
        "trees": Tree.objects.in_orchard(orchard).in_walking_order(),
        "looks": looks.select_related("tree__kind").order_by("-seen_at"),
        "any": looks.order_by()[:1],
        "looked_at": Tree.objects.filter(inspections__in=looks).distinct(),
        "gone": Tree.objects.in_orchard(orchard).filter(state="removed"),
        "elsewhere": Membership.objects.in_orchard(southbank),
    }
    with django_assert_num_queries(1):
        counts = count_together(orchard, lists)
    assert counts == {name: rows.count() for name, rows in lists.items()}
    assert counts == {
        "trees": 2, "looks": 3, "any": 1, "looked_at": 2, "gone": 0, "elsewhere": 0
    }  # fmt: skip
