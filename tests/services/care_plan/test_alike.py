"""Trees of which the same is on record are weighed once, and no others with them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from orchard.records.models import CarePlan, Closure, Task
from orchard.services import care_plan, observations
from orchard.services.care_plan import Context
from tests.conftest import NOW, TODAY, make_tree

LONG_AGO = datetime(2015, 1, 1, tzinfo=UTC)
JOB = "weed_ring"
WHEN = {"now": NOW, "today": TODAY}


@pytest.fixture
def trees(orchard):
    CarePlan.objects.create(orchard=orchard, job=JOB, set_at=LONG_AGO)
    return [
        make_tree(orchard, f"A-{number}", entered_at=LONG_AGO) for number in range(1, 6)
    ]


@pytest.fixture
def weighed(monkeypatch):
    """Note the tree of each history that is gathered."""
    codes, history = [], Context.history

    def noted(context, job, subject):
        codes.append(subject.tree.code)
        return history(context, job, subject)

    monkeypatch.setattr(Context, "history", noted)
    return codes


@pytest.mark.django_db
def test_of_trees_alike_the_first_is_weighed(trees, weighed):
    opened = care_plan.open_next(trees[0].orchard, **WHEN)
    assert [task.tree.code for task in opened] == [tree.code for tree in trees]
    assert weighed == ["A-1"]


@pytest.mark.django_db
def test_a_tree_of_another_past_is_weighed_by_itself(trees, vera, weighed):
    orchard = trees[0].orchard
    care_plan.open_next(orchard, **WHEN)
    done = Task.objects.get(tree=trees[1])
    Closure.objects.create(task=done, how="done", by=vera, done_on=TODAY, closed_at=NOW)
    Task.objects.filter(pk=done.pk).update(closed_at=NOW)
    Task.objects.exclude(pk=done.pk).delete()
    observations.note_stage(
        orchard, bbch=65, seen_on=TODAY, by=vera, now=NOW, tree=trees[3]
    )
    weighed.clear()
    later = {"now": NOW + timedelta(days=1), "today": TODAY + timedelta(days=1)}
    opened = care_plan.open_next(orchard, **later)
    assert weighed == ["A-1", "A-2", "A-4"]
    # What was done yesterday is not asked for again.
    assert [task.tree.code for task in opened] == ["A-1", "A-3", "A-4", "A-5"]
