from __future__ import annotations

import pytest
from django.db import DatabaseError, transaction

from orchard.records.models import Change
from orchard.services import audit


def test_a_line_of_the_ledger_cannot_be_altered(orchard, cora, tree, now):
    line = audit.write(audit.Verb.PLANT, tree, by=cora, now=now, orchard=orchard)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Change.objects.filter(pk=line.pk).update(verb="forged")
    assert Change.objects.get(pk=line.pk).verb == "plant"
