"""Waterings noted, corrected and withdrawn."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from orchard.records.models import Closure, Task, Watering
from orchard.services import (
    tasks,
    water,
)
from tests.conftest import make_tree
from tests.refusals import refused
from tests.services.weather_days import AFTERNOON, TODAY

NOW = datetime(2026, 6, 10, 9, tzinfo=UTC)


def watering_task(tree, key="water_ground", *, is_of_block=False, **more):
    return Task.objects.create(
        orchard=tree.orchard,
        tree=None if is_of_block else tree,
        block=tree.spot.block,
        **{
            "rank": 2,
            "kind": "care",
            "key": key,
            "occurrence": "dry",
            "title": "Water",
            "opens_on": TODAY - timedelta(days=1),
            "due_on": TODAY,
            "rhythm_days": 14,
            "made_at": AFTERNOON,
            **more,
        },
    )


def note(trees, by, litres=60.0):
    return water.note_watering(
        trees, given_on=TODAY, litres=litres, by=by, now=NOW, today=TODAY
    )


def withdraw(row, by):
    return water.withdraw_measurement(row, by=by, now=NOW, reason="another tree")


def test_a_watering_is_corrected_and_withdrawn_and_stays_readable(watered, vera):
    now = datetime(2026, 6, 10, 9, tzinfo=UTC)
    [row] = water.note_watering(
        [watered], given_on=TODAY, litres=10.0, by=vera, now=now, today=TODAY
    )
    better = water.correct_measurement(
        row, by=vera, now=now, today=TODAY, reason="misread", litres=12.0
    )
    assert better.litres == 12.0
    row.refresh_from_db()
    assert not row.is_current
    water.withdraw_measurement(
        better, by=vera, now=now, reason="it was the tree beside"
    )
    better.refresh_from_db()
    assert not better.is_current


def test_what_cannot_be_is_refused(watered, vera, lee):
    now = datetime(2026, 6, 10, 9, tzinfo=UTC)
    with refused("wrong_day"):
        water.note_watering(
            [watered],
            given_on=TODAY + timedelta(days=1),
            litres=5.0,
            by=vera,
            now=now,
            today=TODAY,
        )
    with refused("out_of_range"):
        water.note_watering(
            [watered], given_on=TODAY, litres=0.0, by=vera, now=now, today=TODAY
        )
    [row] = water.note_watering(
        [watered], given_on=TODAY, litres=5.0, by=lee, now=now, today=TODAY
    )
    with refused("not_yours"):
        water.withdraw_measurement(row, by=vera, now=now, reason="not mine")


def test_a_watering_is_tied_to_the_work_it_closes_and_to_none_of_another_tree(
    watered, vera
):
    beside = make_tree(watered.orchard, "B-2")
    task = watering_task(watered)
    mine, other = note([watered, beside], vera)
    assert mine.closure == Closure.objects.get(task=task)
    assert other.closure is None
    mine.refresh_from_db()
    assert mine.closure.evidence == "Watered: 60 L"


def test_withdrawing_a_watering_opens_the_work_again_that_it_closed(watered, vera):
    task = watering_task(watered)
    [row] = note([watered], vera)
    found = withdraw(row, vera)
    assert (found.reopened, found.why_closed) == (task, "")
    assert Task.objects.open().get() == task
    assert Closure.objects.get().undone_by == vera


def test_withdrawing_a_corrected_watering_opens_the_work_as_well(watered, vera):
    task = watering_task(watered)
    [row] = note([watered], vera)
    better = water.correct_measurement(
        row, by=vera, now=NOW, today=TODAY, reason="misread", litres=12.0
    )
    assert not Task.objects.open().exists()
    assert withdraw(better, vera).reopened == task


def test_opening_the_work_again_takes_the_watering_out_and_says_why_it_stays_out(
    watered, vera
):
    task = watering_task(watered)
    [row] = note([watered], vera)
    tasks.reopen(task, by=vera, now=NOW)
    assert not Watering.objects.current().exists()
    with refused("not_current", match="is open again"):
        water.correct_measurement(
            row, by=vera, now=NOW, today=TODAY, reason="misread", litres=12.0
        )
    with refused("not_current", match="is open again"):
        withdraw(row, vera)


def test_work_whose_next_turn_is_open_stays_closed_and_the_withdrawal_says_so(
    watered, vera
):
    watering_task(watered)
    [row] = note([watered], vera)
    newer = watering_task(watered, occurrence="dry again")
    found = withdraw(row, vera)
    assert found.reopened is None
    assert "next task of this job is open" in found.why_closed
    assert Task.objects.open().get() == newer
    assert not Watering.objects.current().exists()


def test_work_of_a_block_stays_closed_while_litres_of_another_tree_stand(watered, vera):
    beside = make_tree(watered.orchard, "A-2", irrigated=True)
    watered.irrigated = True
    watered.save()
    task = watering_task(watered, key="valve_run", is_of_block=True)
    water.close_watering(task, litres=10.0, by=vera, now=NOW, today=TODAY)
    first, second = Watering.objects.order_by("tree__code")
    assert (first.tree, second.tree) == (watered, beside)
    assert "Other trees" in withdraw(first, vera).why_closed
    assert not Task.objects.open().exists()
    assert withdraw(second, vera).reopened == task


def test_a_crown_withdrawn_touches_no_work(watered, vera, cora):
    task = watering_task(watered)
    note([watered], vera)
    [crown] = watered.crowns.all()
    assert withdraw(crown, cora) == water.Withdrawal()
    assert not Task.objects.open().filter(pk=task.pk).exists()


def test_work_of_two_kinds_on_one_tree_ends_with_one_watering(watered, vera):
    new = watering_task(watered, key="water_new", rank=3)
    ground = watering_task(watered)
    [row] = note([watered], vera)
    assert row.closure.task == ground
    assert Closure.objects.get(task=new).how == Closure.How.CANCELLED
    assert not Task.objects.open().exists()


def test_litres_for_a_block_without_a_drip_line_are_refused_in_words(watered, vera):
    task = watering_task(watered, key="valve_run", is_of_block=True)
    with refused("no_tree", match="drip line"):
        water.close_watering(task, litres=10.0, by=vera, now=NOW, today=TODAY)
    assert Task.objects.open().get() == task


def test_work_stays_closed_by_another_watering_of_its_tree(watered, vera):
    watering_task(watered)
    [first] = note([watered], vera)
    [second] = note([watered], vera, litres=20.0)
    assert second.closure is None
    found = withdraw(first, vera)
    assert found.reopened is None
    assert found.why_closed == "The tree was watered on 10 Jun 2026 as well."
    second.refresh_from_db()
    assert second.closure.undone_at is None
    assert second.closure.evidence == "Watered: 20 L"
    assert withdraw(second, vera).reopened is not None


def test_a_watering_before_the_work_opened_does_not_keep_it_closed(watered, vera):
    task = watering_task(watered, opens_on=TODAY)
    water.note_watering(
        [watered],
        given_on=TODAY - timedelta(days=1),
        litres=20.0,
        by=vera,
        now=NOW,
        today=TODAY,
    )
    [row] = note([watered], vera)
    assert withdraw(row, vera).reopened == task


def test_a_corrected_watering_takes_its_closing_along(watered, vera):
    task = watering_task(watered)
    water.close_watering(
        task, litres=60.0, evidence="by can", by=vera, now=NOW, today=TODAY
    )
    day = TODAY - timedelta(days=1)
    water.correct_measurement(
        Watering.objects.get(),
        by=vera,
        now=NOW,
        today=TODAY,
        reason="misread",
        litres=12.0,
        given_on=day,
    )
    closure = Closure.objects.get()
    assert (closure.done_on, closure.evidence) == (day, "Watered: 12 L; by can")


@pytest.mark.parametrize("back", [1, 2])
def test_a_day_on_which_the_work_was_not_done_is_refused(watered, vera, back):
    task = watering_task(watered, is_of_block=back == 1)
    watered.irrigated = True
    watered.save()
    make_tree(watered.orchard, "A-2", irrigated=True)
    water.close_watering(task, litres=60.0, by=vera, now=NOW, today=TODAY)
    row = Watering.objects.get(tree=watered)
    given = {"by": vera, "now": NOW, "today": TODAY, "reason": "misread"}
    with refused("wrong_day", match="record it again"):
        water.correct_measurement(row, given_on=TODAY - timedelta(days=back), **given)
    row.refresh_from_db()
    assert row.is_current
    assert Closure.objects.get().done_on == TODAY
    water.correct_measurement(row, litres=12.0, **given)
