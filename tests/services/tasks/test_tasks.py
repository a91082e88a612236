"""Work is closed, opened again, taken and handed on; each refusal by its success."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from orchard.records.models import Change, Task
from orchard.services import tasks
from orchard.services.tasks import closing
from tests.conftest import NOW, TODAY
from tests.refusals import refused

pytestmark = pytest.mark.django_db


def make_task(tree, key="sucker_round", kind="care", **fields) -> Task:
    values = {
        "block": tree.spot.block,
        "occurrence": "first",
        "title": "Sucker round",
        "opens_on": date(2026, 5, 1),
        "due_on": date(2026, 5, 10),
        "rhythm_days": 30,
        "made_at": NOW,
        "rank": Task.RANKS[Task.Kind(kind)],
    }
    return Task.objects.create(
        orchard=tree.orchard, tree=tree, kind=kind, key=key, **{**values, **fields}
    )


def test_work_is_closed_once_and_the_second_person_is_told_by_whom(tree, vera, lee):
    task = make_task(tree)

    closure = tasks.close(task, by=vera, now=NOW, today=TODAY, evidence="4 taken off")

    assert (closure.how, closure.by, closure.done_on) == ("done", vera, TODAY)
    task.refresh_from_db()
    assert task.closed_at == NOW
    line = Change.objects.get(verb="close")
    assert (line.by, line.tree, line.after["evidence"]) == (vera, tree, "4 taken off")
    with refused("already_closed", match="Vera has done this already"):
        tasks.close(task, by=lee, now=NOW, today=TODAY)
    assert task.closures.count() == 1


def all_done(found, by) -> list[closing.Ending]:
    return [
        tasks.Ending(task, by, NOW + timedelta(minutes=number), TODAY)
        for number, task in enumerate(found)
    ]


def test_many_are_closed_with_the_queries_of_one_each_at_its_moment(
    tree, vera, django_assert_max_num_queries
):
    jobs = [make_task(tree, key=f"job_{number}") for number in range(12)]
    with django_assert_max_num_queries(9):
        tasks.close_all(all_done(jobs[:1], vera), today=TODAY)
    with django_assert_max_num_queries(9):
        closures = tasks.close_all(all_done(jobs[1:], vera), today=TODAY)

    assert [closure.task for closure in closures] == jobs[1:]
    for number, task in enumerate(jobs[1:]):
        task.refresh_from_db()
        assert task.closed_at == NOW + timedelta(minutes=number)
        line = Change.objects.get(verb="close", subject_id=task.pk)
        assert (line.at, line.by, line.tree) == (task.closed_at, vera, tree)


def test_of_many_all_are_closed_or_none(tree, vera, lee):
    jobs = [make_task(tree, key=f"job_{number}") for number in range(3)]
    tasks.close(jobs[1], by=lee, now=NOW, today=TODAY)
    with refused("already_closed", match="Lee"):
        tasks.close_all(all_done(jobs, vera), today=TODAY)
    assert Task.objects.open().count() == 2
    assert tasks.close_all([], today=TODAY) == []


def test_skipping_says_why(tree, vera):
    task = make_task(tree)
    with refused("reason_missing"):
        tasks.close(task, by=vera, now=NOW, today=TODAY, how="skipped", reason="  ")
    tasks.close(
        task, by=vera, now=NOW, today=TODAY, how="skipped", reason="Wet bark all week"
    )
    assert task.closures.get().reason == "Wet bark all week"


def test_a_day_to_come_is_no_day_of_work(tree, vera):
    task = make_task(tree)
    with refused("wrong_day", match="in the future"):
        tasks.close(
            task, by=vera, now=NOW, today=TODAY, done_on=TODAY + timedelta(days=1)
        )
    tasks.close(task, by=vera, now=NOW, today=TODAY, done_on=TODAY)


def test_a_late_entry_cannot_satisfy_work_that_opened_after_it(tree, vera):
    task = make_task(tree)
    with refused("wrong_day", match="opens on"):
        tasks.close(task, by=vera, now=NOW, today=TODAY, done_on=date(2026, 4, 30))
    tasks.close(task, by=vera, now=NOW, today=TODAY, done_on=date(2026, 5, 1))
    assert task.closures.get().done_on == date(2026, 5, 1)


def test_nothing_was_done_before_the_tree_was_planted(tree, vera):
    tree.planted_on = date(2026, 5, 5)
    tree.save()
    task = make_task(tree)
    with refused("wrong_day", match="only planted on 5 May 2026"):
        tasks.close(task, by=vera, now=NOW, today=TODAY, done_on=date(2026, 5, 4))
    tasks.close(task, by=vera, now=NOW, today=TODAY, done_on=date(2026, 5, 5))


def test_undo_opens_the_work_again_and_keeps_what_was_undone(tree, vera, lee):
    task = make_task(tree)
    with refused("not_closed"):
        tasks.reopen(task, by=lee, now=NOW)
    tasks.close(task, by=vera, now=NOW, today=TODAY)

    tasks.reopen(task, by=lee, now=NOW)

    task.refresh_from_db()
    assert task.closed_at is None
    closure = task.closures.get()
    assert (closure.undone_by, closure.by) == (lee, vera)
    assert Change.objects.filter(verb="reopen").count() == 1
    tasks.close(task, by=vera, now=NOW, today=TODAY)
    assert task.closures.count() == 2


def test_undo_is_refused_when_the_next_turn_is_open(tree, vera):
    task = make_task(tree)
    tasks.close(task, by=vera, now=NOW, today=TODAY)
    make_task(tree, occurrence="after 2026-05-12")
    assert not closing.can_reopen(task)
    with refused("newer_one_open"):
        tasks.reopen(task, by=vera, now=NOW)


def test_of_two_people_who_reach_for_the_same_work_the_second_is_told(tree, vera, lee):
    task = make_task(tree)
    seen_by_both = Task.objects.get(pk=task.pk)

    assert tasks.take_task(task, by=vera, now=NOW).taken_by == vera
    with refused("taken_by_another", match="Vera has this already"):
        tasks.take_task(seen_by_both, by=lee, now=NOW)

    task.refresh_from_db()
    assert task.taken_by == vera
    assert tasks.take_task(task, by=vera, now=NOW).taken_by == vera
    assert Change.objects.filter(verb="take").count() == 1


def test_only_whoever_has_the_work_gives_it_back(tree, vera, lee):
    task = make_task(tree, taken_by=vera)
    with refused("not_yours"):
        tasks.give_back_task(task, by=lee, now=NOW)
    assert tasks.give_back_task(task, by=vera, now=NOW).taken_by is None


def test_work_is_handed_only_to_those_who_may_do_it(tree, vera, lee, olga, otto, eddy):
    task = make_task(tree)
    assert tasks.hand_over_task(task, to=vera, by=lee, now=NOW).taken_by == vera
    assert tasks.hand_over_task(task, to=eddy, by=lee, now=NOW).taken_by == eddy
    assert tasks.hand_over_task(task, to=None, by=lee, now=NOW).taken_by is None
    for person in (olga, otto):
        with refused("cannot_take_on"):
            tasks.hand_over_task(task, to=person, by=lee, now=NOW)
    names = [member.user.name for member in tasks.who_may_take_on(task)]
    assert names == ["Eddy", "Lee", "Vera"]


def test_private_work_is_handed_only_to_those_who_lead(tree, vera, lee):
    task = make_task(tree, "psyllid_nymph", kind="report", private=True)
    with refused("cannot_take_on"):
        tasks.hand_over_task(task, to=vera, by=lee, now=NOW)
    assert tasks.hand_over_task(task, to=lee, by=lee, now=NOW).taken_by == lee


def test_when_a_tree_dies_its_work_falls_away_and_what_was_done_still_counts(
    tree, vera, cora
):
    done = make_task(tree, "weed_ring")
    tasks.close(done, by=vera, now=NOW, today=TODAY)
    late = make_task(tree, due_on=date(2026, 5, 2))

    closures = tasks.cancel_all(tree, by=cora, now=NOW, today=TODAY, reason="tree died")

    assert [(one.task, one.how, one.reason) for one in closures] == [
        (late, "cancelled", "tree died")
    ]
    assert not Task.objects.open().overdue(TODAY).exists()
    assert done.closures.get(undone_at=None).how == "done"


def test_work_of_a_dead_tree_stays_closed(tree, vera, cora):
    task = make_task(tree)
    tasks.close(task, by=vera, now=NOW, today=TODAY)
    tree.state = "dead"
    tree.save()
    with refused("not_closed", match="no longer grows"):
        tasks.reopen(task, by=cora, now=NOW)
