"""Rows saved with their line in the ledger: checked, or as they are."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from orchard.records.models import Change, Task
from orchard.services import audit, tasks
from orchard.services.audit import Verb
from tests.conftest import NOW
from tests.refusals import refused
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db


def test_what_the_book_sets_itself_costs_the_two_writes_alone(orchard, tree, vera):
    task = make_task(tree)
    task.taken_by, task.title = vera, "not written"
    with (
        transaction.atomic(),
        CaptureQueriesContext(
            connection,
        ) as asked,
    ):
        audit.save(
            Verb.TAKE, task, by=vera, now=NOW, fields=["taken_by"], is_checked=True
        )
    assert [query["sql"].split()[0] for query in asked] == ["UPDATE", "INSERT"]
    assert Task.objects.get().title != "not written"
    line = Change.objects.get(verb=Verb.TAKE)
    assert (line.tree, line.after) == (tree, {"taken_by": vera.pk})


def test_a_row_that_breaks_a_rule_is_refused_or_where_it_was_checked_a_fault(
    orchard, tree, vera
):
    task = make_task(tree)
    task.due_on = task.opens_on - timedelta(days=1)
    with refused("invalid"):
        audit.save(Verb.MOVE_DAY, task, by=vera, now=NOW, fields=["due_on"])
    with pytest.raises(IntegrityError), transaction.atomic():
        audit.save(
            Verb.MOVE_DAY, task, by=vera, now=NOW, fields=["due_on"], is_checked=True
        )
    assert not Change.objects.filter(verb=Verb.MOVE_DAY).exists()


def test_a_task_is_handed_over_with_one_line_and_no_second_reading(
    orchard, tree, vera, lee
):
    task = make_task(tree, taken_by=vera)
    with CaptureQueriesContext(connection) as asked:
        tasks.hand_over_task(task, to=None, by=lee, now=NOW)
    assert sum(query["sql"].startswith("SELECT") for query in asked) == 1
    line = Change.objects.get(verb=Verb.HAND_OVER)
    assert (line.before, line.after) == ({"taken_by": "Vera"}, {"taken_by": None})
