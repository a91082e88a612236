"""Lines of the ledger that are written together keep their order, or none is kept."""

from __future__ import annotations

import pytest

from orchard.records.models import Change
from orchard.services import audit
from orchard.services.audit import Verb
from tests.conftest import NOW

pytestmark = pytest.mark.django_db


def tell(orchard, reason: str) -> None:
    audit.write(Verb.SET, orchard, by=None, now=NOW, orchard=orchard, reason=reason)


def told() -> list[str]:
    lines = Change.objects.filter(verb=Verb.SET).order_by("pk")
    return list(lines.values_list("reason", flat=True))


def test_a_block_writes_its_lines_at_its_end_in_their_order(
    orchard, django_assert_num_queries
):
    with django_assert_num_queries(1), audit.written_together():
        tell(orchard, "first")
        with audit.written_together():
            tell(orchard, "second")
        tell(orchard, "third")
    tell(orchard, "after")
    assert told() == ["first", "second", "third", "after"]


def test_a_block_that_fails_within_another_takes_its_own_lines_with_it(orchard):
    with audit.written_together():
        tell(orchard, "first")
        with pytest.raises(ValueError, match="fails"), audit.written_together():
            tell(orchard, "second")
            raise ValueError("fails")
        tell(orchard, "third")
    assert told() == ["first", "third"]
