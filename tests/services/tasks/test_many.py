"""One deed on many tasks: what can be done is done, the rest is left and said."""

from __future__ import annotations

from datetime import timedelta
from io import BytesIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orchard.records.models import BulkChange, Change, Closure, Photo, Task
from orchard.services import photos, tasks, timeline
from orchard.services.tasks import BoardBand, BoardFilters, GroupKey, many
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused
from tests.services.photos.test_photos import file
from tests.services.tasks.test_board import late_by, member
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(minutes=5)
SKIRT = GroupKey(BoardBand.DUE, Task.Kind.CARE, "skirt")


@pytest.fixture
def three(orchard):
    """The same job on three trees, in blocks A, B and B."""
    return [
        late_by(make_tree(orchard, code), 3, rhythm=30, title="skirt")
        for code in ("A-5", "B-1", "B-2")
    ]


def choose(user, **chosen):
    values = {"filters": BoardFilters(), **chosen}
    return tasks.choose_tasks(member(user), today=TODAY, **values)


def fresh(rows):
    return [Task.objects.get(pk=task.pk) for task in rows]


def reasons(outcome):
    return {each.task.pk: each.why for each in outcome.left}


def test_tasks_lines_and_bands_are_chosen_each_task_once(three, tree, vera):
    alone = make_task(tree)
    far = late_by(tree, -40, rhythm=30, title="far")
    assert choose(vera, numbers=[alone.pk, far.pk, alone.pk]) == [alone, far]
    assert choose(vera, groups=[SKIRT], numbers=[three[0].pk]) == three
    assert set(choose(vera, bands=[BoardBand.DUE])) == {alone, *three}
    in_b = BoardFilters(block="B")
    assert choose(vera, groups=[SKIRT], filters=in_b) == three[1:]
    # What was ticked by hand is meant, whatever the filter shows.
    assert set(choose(vera, filters=in_b, numbers=[alone.pk])) == {alone}


def test_nothing_and_too_much_are_refused(three, vera, monkeypatch):
    with refused("nothing_chosen"):
        choose(vera)
    with refused("nothing_chosen"):
        choose(vera, numbers=[10**14])
    monkeypatch.setattr(many, "MOST_AT_ONCE", 2)
    with refused("too_many"):
        choose(vera, groups=[SKIRT])
    assert len(choose(vera, numbers=[task.pk for task in three[:2]])) == 2


def test_what_others_may_not_see_they_cannot_choose(tree, vera, lee, southbank):
    report = late_by(tree, 0, rhythm=1, title="r", kind="report", private=True)
    theirs = make_task(make_tree(southbank))
    for numbers in ([report.pk], [theirs.pk]):
        with refused("nothing_chosen"):
            choose(vera, numbers=numbers)
    assert choose(lee, numbers=[report.pk, theirs.pk]) == [report]


def test_many_are_taken_but_for_what_somebody_has(three, vera, lee):
    Task.objects.filter(pk=three[1].pk).update(taken_by=lee)
    outcome = tasks.take_many(three, by=vera, now=NOW)
    assert (outcome.done, reasons(outcome)) == (2, {three[1].pk: "Lee has it"})
    assert [task.taken_by for task in fresh(three)] == [vera, lee, vera]
    assert Change.objects.filter(verb="take", by=vera).count() == 2
    Task.objects.filter(pk=three[2].pk).update(taken_by=lee)
    undone = tasks.undo_many(outcome.change, by=vera, now=LATER)
    assert [task.taken_by for task in fresh(three)] == [None, lee, lee]
    assert reasons(undone) == {three[2].pk: "it was changed since"}
    assert Change.objects.filter(verb="give_back", by=vera).count() == 1
    with refused("undone_before"):
        tasks.undo_many(outcome.change, by=vera, now=LATER)


def test_many_are_handed_over_and_come_back_to_whom_they_were_with(
    three, tree, vera, lee, cora, olga
):
    report = late_by(tree, 0, rhythm=1, title="r", kind="report", private=True)
    Task.objects.filter(pk=three[1].pk).update(taken_by=lee)
    rows = [*fresh(three), report]
    outcome = tasks.hand_over_many(rows, to=vera, by=cora, now=NOW)
    assert (outcome.done, reasons(outcome)) == (3, {report.pk: "it is private"})
    assert {task.taken_by for task in fresh(three)} == {vera}
    tasks.undo_many(outcome.change, by=cora, now=LATER)
    assert [task.taken_by for task in fresh(three)] == [None, lee, None]
    with refused("cannot_take_on"):
        tasks.hand_over_many(rows, to=olga, by=cora, now=NOW)


def test_what_is_handed_back_goes_to_nobody_who_may_not_have_it_any_more(
    three, tree, vera, lee, cora
):
    report = late_by(tree, 0, rhythm=1, title="r", kind="report", private=True)
    held = [*three, report]
    Task.objects.filter(pk__in=[task.pk for task in held]).update(taken_by=lee)
    outcome = tasks.hand_over_many(fresh(held), to=cora, by=cora, now=NOW)
    assert outcome.done == 4
    standing = member(lee)
    standing.role = "volunteer"
    standing.save()
    tasks.undo_many(outcome.change, by=cora, now=LATER)
    assert [task.taken_by for task in fresh(held)] == [lee, lee, lee, None]

    again = tasks.hand_over_many(fresh(three), to=cora, by=cora, now=LATER)
    standing.left_at = LATER
    standing.save()
    tasks.undo_many(again.change, by=cora, now=LATER)
    assert {task.taken_by for task in fresh(three)} == {None}


def test_many_are_closed_with_one_evidence_and_opened_again(three, vera):
    outcome = tasks.close_many(
        three, by=vera, now=NOW, today=TODAY, done_on=TODAY, evidence="To knee height"
    )
    assert (outcome.done, outcome.left) == (3, ())
    assert {task.closed_at for task in fresh(three)} == {NOW}
    closures = Closure.objects.filter(task__in=three)
    assert {(one.how, one.evidence) for one in closures} == {("done", "To knee height")}
    assert Change.objects.filter(verb="close", by=vera).count() == 3
    undone = tasks.undo_many(outcome.change, by=vera, now=LATER)
    assert (undone.done, undone.left) == (3, ())
    assert {task.closed_at for task in fresh(three)} == {None}
    assert {one.undone_by for one in closures.all()} == {vera}
    assert Change.objects.filter(verb="reopen", by=vera).count() == 3


@pytest.fixture
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"
    return settings.MEDIA_ROOT


def files_in(store):
    return [path for path in store.rglob("*") if path.is_file()]


def test_one_photo_proves_all_that_are_closed_with_it(
    orchard, three, tree, vera, own_store
):
    drip = make_task(tree, "water_new")
    far = late_by(make_tree(orchard, "C-1"), 0, rhythm=7, title="far")
    outcome = tasks.close_many(
        [*three, drip, far], by=vera, now=NOW, today=TODAY, done_on=TODAY, photo=file()
    )
    assert outcome.done == 4
    photo = Photo.objects.get()
    proven = Closure.objects.filter(photos=photo).values_list("task_id", flat=True)
    assert set(proven) == {task.pk for task in (*three, far)}
    # It shows no single tree, and stands in the history of each.
    assert photo.tree is None
    assert not Photo.objects.current().unassigned().exists()
    seen = timeline.timeline_of(far.tree, member(vera), today=TODAY)
    assert [shot.name for event in seen.events for shot in event.shots] == [photo.name]
    assert len(files_in(own_store)) == 4
    # Opened again it proves nothing that stands, and is still there.
    tasks.undo_many(outcome.change, by=vera, now=LATER)
    assert not Closure.objects.filter(photos=photo, undone_at=None).exists()
    assert Photo.objects.current().get() == photo


def test_a_photo_of_work_on_one_tree_shows_that_tree(tree, vera, own_store):
    rows = [late_by(tree, 1, rhythm=7, title=title) for title in ("a", "b")]
    when = {"by": vera, "now": NOW, "today": TODAY, "done_on": TODAY}
    tasks.close_many(rows, **when, photo=file())
    assert Photo.objects.get().tree == tree


def test_a_photo_the_book_holds_already_proves_the_closings_too(
    orchard, three, vera, own_store
):
    other = make_tree(orchard, "C-1")
    before = photos.store(file(), orchard=orchard, by=vera, now=NOW, tree=other)
    when = {"by": vera, "now": NOW, "today": TODAY, "done_on": TODAY}
    tasks.close_many(three, **when, photo=file())
    assert Photo.objects.get() == before
    assert before.closures.count() == 3
    assert list(before.trees.all()) == [other]
    assert len(files_in(own_store)) == 4


def test_no_photo_stays_where_nothing_is_closed(three, vera, own_store, monkeypatch):
    when = {"by": vera, "now": NOW, "today": TODAY, "done_on": TODAY}
    with refused("bad_picture"):
        tasks.close_many(three, **when, photo=BytesIO(b"no picture"))
    assert {task.closed_at for task in fresh(three)} == {None}
    for task in three:
        tasks.close(task, by=vera, now=NOW, today=TODAY)
    assert tasks.close_many(fresh(three), **when, photo=file()).done == 0
    assert not Photo.objects.exists()
    assert files_in(own_store) == []


def test_a_photo_with_private_work_is_private(tree, cora, own_store):
    secret = late_by(tree, 1, rhythm=7, title="a", private=True)
    plain = late_by(tree, 1, rhythm=7, title="b")
    when = {"by": cora, "now": NOW, "today": TODAY, "done_on": TODAY}
    tasks.close_many([secret, plain], **when, photo=file())
    assert Photo.objects.get().private


def test_what_yields_a_result_or_waits_or_came_later_is_left_open(
    orchard, tree, cora, three
):
    drip = make_task(tree, "water_new")
    cut = make_task(tree, "frost_fruit_cut")
    report = late_by(tree, 0, rhythm=1, title="r", kind="report", private=True)
    young = make_tree(orchard, "C-1", planted_on=TODAY - timedelta(days=30))
    feed = make_task(young, "feed_3", due_on=TODAY)
    early = late_by(tree, -9, rhythm=7, title="e", opens_on=TODAY + timedelta(days=1))
    gone = late_by(tree, 1, rhythm=7, title="gone")
    rows = [*three, drip, cut, report, feed, early, gone]
    tasks.close(gone, by=cora, now=NOW, today=TODAY)
    outcome = tasks.close_many(
        rows, by=cora, now=LATER, today=TODAY, done_on=TODAY, evidence="All of it"
    )
    assert outcome.done == 3
    left = reasons(outcome)
    assert set(left) == {drip.pk, cut.pk, report.pk, feed.pk, early.pk, gone.pk}
    assert left[drip.pk] == left[cut.pk] == "its result is entered on its own page"
    assert left[report.pk] == "a report is closed on its own page"
    assert "no feed before" in left[feed.pk]
    assert "opens on" in left[early.pk]
    assert left[gone.pk] == "it was just closed"
    with refused("wrong_day"):
        tasks.close_many(
            rows, by=cora, now=LATER, today=TODAY, done_on=TODAY + timedelta(days=1)
        )


def test_many_are_skipped_for_one_reason(three, vera):
    when = {"by": vera, "now": NOW, "today": TODAY}
    with refused("reason_missing"):
        tasks.skip_many(three, **when, reason=" ")
    outcome = tasks.skip_many(three, **when, reason="Too wet")
    assert outcome.done == 3
    closures = Closure.objects.filter(task__in=three)
    assert {(one.how, one.reason) for one in closures} == {("skipped", "Too wet")}
    tasks.undo_many(outcome.change, by=vera, now=LATER)
    assert {task.closed_at for task in fresh(three)} == {None}


def test_a_day_is_moved_and_moved_back_but_for_a_report(three, tree, cora):
    report = late_by(tree, 0, rhythm=1, title="r", kind="report", private=True)
    were = [(task.opens_on, task.due_on) for task in fresh(three)]
    friday = TODAY + timedelta(days=4)
    when = {"by": cora, "now": NOW, "today": TODAY}
    outcome = tasks.move_many([*three, report], due_on=friday, **when, reason="Rain")
    assert {task.due_on for task in fresh(three)} == {friday}
    assert reasons(outcome) == {report.pk: "a report keeps its day"}
    line = Change.objects.filter(verb="move_day").first()
    assert (line.after["due_on"], line.reason) == (friday.isoformat(), "Rain")
    tasks.undo_many(outcome.change, by=cora, now=LATER)
    assert [(task.opens_on, task.due_on) for task in fresh(three)] == were
    with refused("wrong_day"):
        tasks.move_many(three, due_on=TODAY - timedelta(days=1), **when)


def test_what_the_next_turn_has_overtaken_stays_closed(three, tree, vera):
    outcome = tasks.close_many(three, by=vera, now=NOW, today=TODAY, done_on=TODAY)
    again = late_by(three[0].tree, 0, rhythm=7, title="skirt", occurrence="next")
    undone = tasks.undo_many(outcome.change, by=vera, now=LATER)
    assert undone.done == 2
    assert reasons(undone) == {three[0].pk: "its next turn is open already"}
    assert again.closed_at is None


def test_a_deed_that_fails_leaves_everything_as_it_was(three, vera, monkeypatch):
    monkeypatch.setattr(many, "note_change", lambda *_args, **_options: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        tasks.close_many(three, by=vera, now=NOW, today=TODAY, done_on=TODAY)
    assert {task.closed_at for task in fresh(three)} == {None}
    assert not BulkChange.objects.exists()
    assert not Change.objects.filter(verb="close").exists()


def test_a_deed_on_forty_asks_no_more_than_on_four(orchard, cora):
    asked = []
    for count in (4, 40):
        rows = [
            late_by(make_tree(orchard, f"D{count}-{n}"), 2, rhythm=9, title="skirt")
            for n in range(count)
        ]
        when = {"by": cora, "now": NOW + timedelta(minutes=count), "today": TODAY}
        with CaptureQueriesContext(connection) as queries:
            moved = tasks.move_many(rows, due_on=TODAY, **when)
            tasks.undo_many(moved.change, by=cora, now=LATER)
            closed = tasks.close_many(rows, done_on=TODAY, **when)
            tasks.undo_many(closed.change, by=cora, now=LATER)
        asked.append(len(queries))
    # SQLite takes some hundreds of values at a time.
    assert asked[1] - asked[0] <= 6
