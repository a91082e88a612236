"""A lot is looked at again when a case or a frost is noted after the pick."""

from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.records.models import CutTest, Task
from orchard.science import guide
from orchard.science.words import JobRole
from orchard.services import cases, harvests, observations, tasks
from orchard.services.harvests import LotFilters
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused
from tests.services.harvests.helpers import give, record, suspect

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def kept_back(orchard):
    page = harvests.lots_of(orchard, LotFilters())
    return [line.harvest.lot for line in page.rows if line.is_kept_back]


def test_a_case_keeps_back_what_was_picked_before_it_until_it_is_answered(
    orchard, tree, vera, cora
):
    other = make_tree(orchard, "A-2")
    lot = record(orchard, tree, other, by=vera, at=NOW - DAY).harvest
    free = record(orchard, other, by=vera, at=NOW - DAY).harvest
    old = record(orchard, tree, by=vera, at=NOW - 61 * DAY).harvest
    assert not kept_back(orchard)
    case = suspect(tree, vera, at=NOW)
    [why] = harvests.why_kept_back(lot)
    assert "leave A-1 alone" in why
    assert "psyllid" not in why
    assert kept_back(orchard) == [lot.lot]
    for use in ("given_away", "compost"):
        with refused("kept_back"):
            give(lot, vera, use=use, kg=1)
    give(lot, vera, use="destroyed", kg=1)
    give(free, vera, kg=1)
    give(old, vera, kg=1)
    cases.close(case, by=cora, now=NOW, outcome="Not found")
    assert not harvests.why_kept_back(lot)
    give(lot, vera, kg=1)


def frost(orchard, by, *, what="hard_frost", nights_ago=3, **more):
    observations.note_event(
        orchard, what=what, happened_on=TODAY - nights_ago * DAY, by=by, now=NOW, **more
    )


def cut(tree, by, *, spoilt, on=TODAY):
    job = guide.load().job(JobRole.CUT_TEST)
    task = Task.objects.create(
        orchard=tree.orchard, tree=tree, kind="care", key=job.key, rank=0,
        occurrence=f"{on} {spoilt}", title=job.name, opens_on=on, due_on=on,
        rhythm_days=14, made_at=NOW,
    )  # fmt: skip
    at = NOW + (on - TODAY)
    closure = tasks.close(
        task, by=by, now=at, today=on, done_on=on, fruit_cut=10, fruit_spoilt=spoilt
    )
    assert CutTest.objects.filter(closure=closure).exists()


def test_a_frost_noted_late_keeps_fruit_back_until_a_cut_test_passes(
    orchard, tree, lee
):
    lot = record(orchard, tree, by=lee, at=NOW - 2 * DAY).harvest
    leaves = record(orchard, tree, by=lee, at=NOW - 2 * DAY, part="leaf").harvest
    before = record(orchard, tree, by=lee, at=NOW - 5 * DAY).harvest
    frost(orchard, lee)
    [why] = harvests.why_kept_back(lot)
    assert "until a cut test of A-1 passes" in why
    assert kept_back(orchard) == [lot.lot]
    with refused("kept_back", match="frost"):
        give(lot, lee, kg=1)
    give(lot, lee, use="compost", kg=1)
    give(before, lee, kg=1)
    give(leaves, lee, kg=1)
    cut(tree, lee, spoilt=9, on=TODAY - DAY)
    assert harvests.why_kept_back(lot)
    cut(tree, lee, spoilt=0)
    assert not harvests.why_kept_back(lot)


def test_a_severe_frost_asks_for_a_later_test_and_of_another_tree_for_none(
    orchard, tree, lee
):
    other = make_tree(orchard, "A-2")
    lot = record(orchard, tree, by=lee, at=NOW - 2 * DAY).harvest
    frost(orchard, lee, what="severe_frost", tree=other)
    assert not harvests.why_kept_back(lot)
    frost(orchard, lee, what="severe_frost", tree=tree)
    cut(tree, lee, spoilt=0)
    [why] = harvests.why_kept_back(lot)
    # New South Wales: fourteen days without picking after such a night.
    assert "passes on 23 May 2026 or later" in why
    cut(tree, lee, spoilt=0, on=TODAY + 11 * DAY)
    assert not harvests.why_kept_back(lot)
