"""One-off tasks: asked for by hand, grouped, held up, undone, withdrawn."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from orchard.records.models import (
    BulkChange,
    CarePlan,
    Case,
    Change,
    Closure,
    Task,
    TaskRequest,
    Tree,
)
from orchard.science import guide
from orchard.services import care_plan, inspections, rounds, tasks, timeline
from orchard.services.care_plan.context import gather_context
from orchard.services.inspections import SeenSign
from orchard.services.rounds import planning
from orchard.services.tasks import (
    BoardBand,
    BoardFilters,
    GroupKey,
    OneOff,
    blockers,
    closing,
    many,
)
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused
from tests.services.tasks.test_board import late_by, member
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(minutes=5)
SOON = TODAY + timedelta(days=5)


@pytest.fixture
def three(orchard):
    return [make_tree(orchard, code) for code in ("A-5", "B-1", "B-2")]


def ask(orchard, places, by, *, to=None, not_for=(), today=TODAY, now=NOW, **asked):
    values = {"title": "Paint the stakes", "due_on": SOON, **asked}
    return tasks.ask_for(
        orchard,
        OneOff(**values),
        places,
        not_for=not_for,
        to=to,
        by=by,
        now=now,
        today=today,
    )


def made(outcome):
    numbers = outcome.change.before
    return list(Task.objects.filter(pk__in=numbers).order_by("pk"))


def board(user, **more):
    shown = tasks.board_for(member(user), today=TODAY, **more)
    return [*shown.danger, *shown.due]


def test_each_tree_gets_its_task_and_the_board_has_one_line(orchard, three, cora, vera):
    outcome = ask(
        orchard,
        three,
        cora,
        steps=" Brush off dirt. \n\nPaint to the ground.",
        minutes=10,
        evidence="a photo",
        to=vera,
    )
    assert (outcome.done, outcome.left) == (3, ())
    rows = made(outcome)
    assert [task.tree for task in rows] == three
    assert {task.taken_by for task in rows} == {vera}
    assert {(task.opens_on, task.due_on, task.private) for task in rows} == {
        (TODAY, SOON, False)
    }
    request = TaskRequest.objects.get()
    assert request.steps == "Brush off dirt.\nPaint to the ground."
    assert Change.objects.filter(verb="open", by=cora).count() == 3
    assert Change.objects.get(subject_type="taskrequest").after["minutes"] == 10

    [line] = board(cora)
    assert (line.name, line.tasks, line.trees) == ("Paint the stakes", 3, 3)
    assert (line.blocks, line.minutes, line.taken_by) == (("A", "B"), 30, vera)
    shown = tasks.board_for(member(cora), today=TODAY, opened=line.key)
    assert [row.minutes for row in shown.due[0].rows] == [10, 10, 10]
    assert shown.minutes_this_week == 30


def test_one_title_and_day_is_one_line_another_day_is_another(orchard, three, cora):
    ask(orchard, three[:1], cora, minutes=5)
    ask(orchard, three[1:2], cora, title=" paint  THE stakes", minutes=7)
    ask(orchard, three[:1], cora, due_on=SOON + timedelta(days=1))
    counts = sorted((line.tasks, line.minutes) for line in board(cora) if line.minutes)
    assert counts == [(2, 12)]
    assert len(board(cora)) == 2


def test_lines_by_hand_cost_one_question_however_many(
    orchard, three, cora, django_assert_max_num_queries
):
    ask(orchard, three, cora)
    with CaptureQueriesContext(
        connection,
    ) as few:
        board(cora)
    for number in range(5):
        ask(orchard, three, cora, title=f"Work {number}")
    with django_assert_max_num_queries(len(few)):
        board(cora)


def test_all_that_is_wrong_is_told_and_nothing_is_written(orchard, three, cora, olga):
    wrong = OneOff(due_on=TODAY - timedelta(days=1), title="  ")
    assert [(one.field, one.code) for one in tasks.faults_of(wrong, today=TODAY)] == [
        ("title", "no_title"),
        ("due_on", "wrong_day"),
    ]
    with refused("no_title"):
        ask(orchard, three, cora, title="")
    with refused("unknown_job"):
        ask(orchard, three, cora, job="juggling")
    with refused("wrong_day", match="11 May 2026 is in the past"):
        ask(orchard, three, cora, due_on=date(2026, 5, 11))
    with refused("no_trees"):
        ask(orchard, [], cora)
    with refused("cannot_take_on", match="Olga"):
        ask(orchard, three, cora, to=olga)
    assert not TaskRequest.objects.exists()
    assert not Task.objects.exists()


def test_codes_name_trees_and_blocks_and_all_wrong_ones_are_said(orchard, three):
    named = tasks.trees_named(orchard, ["b", "A-5", "b-1"])
    assert [tree.code for tree in named] == ["A-5", "B-1", "B-2"]
    Tree.objects.filter(code="B-2").update(state="dead", died_on=TODAY)
    assert tasks.trees_named(orchard, ["B"]) == [three[1]]
    with refused("unknown_codes", match="codes B-2, Z-1, C, D, E, F, G. ") as caught:
        tasks.trees_named(orchard, ["B-2", "A-5", "Z-1", *"CDEFG"])
    assert caught.value.field == "codes"
    with refused("unknown_codes", match="the code Z-1. "):
        tasks.trees_named(orchard, ["Z-1"])


def test_what_is_open_there_already_is_left_and_said(orchard, three, cora):
    make_task(three[0], "skirt")
    outcome = ask(orchard, three, cora, job="skirt", title="")
    assert outcome.done == 2
    assert [(one.task.tree, one.why) for one in outcome.left] == [
        (three[0], "it is open already")
    ]
    with refused("no_trees", match="Nothing was added"):
        ask(orchard, three, cora, job="skirt", title="")
    assert TaskRequest.objects.count() == 1
    ask(orchard, three, cora)
    with refused("no_trees"):
        ask(orchard, three, cora)


def test_a_block_and_the_whole_orchard_are_one_task_each(orchard, three, cora):
    ask(orchard, [three[1].spot.block], cora, title="Mow")
    ask(orchard, [orchard], cora, title="Sweep the shed")
    block, whole = Task.objects.order_by("pk")
    assert (block.tree, block.block.code) == (None, "B")
    assert (whole.tree, whole.block) == (None, None)
    assert {(line.name, line.trees) for line in board(cora)} == {
        ("Mow", 0),
        ("Sweep the shed", 0),
    }


def suspect(tree, by):
    seen = [SeenSign("psyllid_nymph", {"count": 1})]
    inspections.record(tree, by=by, now=NOW, seen_at=NOW, findings=seen)
    assert Case.objects.filter(tree=tree).exists()


@pytest.mark.parametrize(
    "kind", ["pruning", "sampling", "feeding", "picking", "propagating"]
)
def test_at_a_tree_under_suspicion_such_work_waits(orchard, three, vera, cora, kind):
    suspect(three[0], vera)
    tasks_there = made(ask(orchard, three[:2], cora, work=kind))
    now = tasks.circumstances(orchard, today=TODAY)
    held, free = (tasks.why_it_waits(task, now) for task in tasks_there)
    assert held
    assert not free
    left = tasks.close_many(
        tasks_there, by=cora, now=LATER, today=TODAY, done_on=TODAY
    ).left
    assert [one.task.tree for one in left] == three[:1]


def test_other_work_goes_on_and_a_job_knows_its_kind(orchard, three, vera, cora):
    suspect(three[0], vera)
    other = made(ask(orchard, three[:1], cora))
    skirt = made(ask(orchard, three[:1], cora, job="skirt", title=""))
    now = tasks.circumstances(orchard, today=TODAY)
    assert not tasks.why_it_waits(other[0], now)
    assert tasks.why_it_waits(skirt[0], now)


def test_work_on_many_trees_passes_the_held_one_by(orchard, three, vera, cora):
    suspect(three[1], vera)
    ask(orchard, [three[1].spot.block], cora, title="Pick", work="picking")
    ask(orchard, [orchard], cora, title="Pick all", work="picking")
    for line in board(cora):
        if not line.name.startswith("Pick"):
            continue
        shown = tasks.board_for(member(cora), today=TODAY, opened=line.key)
        [row] = [row for one in shown.due for row in one.rows]
        assert (row.waits, row.left_out) == ((), ("B-1",))


def test_a_job_by_hand_is_the_plans_own_work(orchard, cora):
    """The plan asks for no second task meanwhile, and counts what was done."""
    long_ago = datetime(2015, 1, 1, tzinfo=UTC)
    orchard.founded_at = long_ago
    orchard.save()
    tree = make_tree(orchard, entered_at=long_ago)
    CarePlan.objects.create(
        orchard=orchard, job="sucker_round", active=True, set_at=long_ago
    )

    def night(day):
        at = datetime(day.year, day.month, day.day, 9, tzinfo=UTC)
        opened = care_plan.open_next(orchard, now=at, today=day)
        return [task.tree for task in opened]

    [task] = made(ask(orchard, [tree], cora, job="sucker_round", title=""))
    assert night(TODAY) == []
    tasks.close(task, by=cora, now=LATER, today=TODAY, evidence="Two taken off")
    assert night(TODAY + timedelta(days=1)) == []
    tasks.reopen(task, by=cora, now=LATER)
    tasks.withdraw_request(
        task.request, [task.pk], by=cora, now=LATER, today=TODAY, reason="Not now"
    )
    assert night(TODAY + timedelta(days=1)) == [tree]


def test_a_job_whose_result_is_more_than_words_asks_for_it(orchard, three, cora):
    [watering] = made(ask(orchard, three[:1], cora, job="water_new", title="By hand"))
    assert watering.title.endswith(": By hand")
    outcome = tasks.close_many([watering], by=cora, now=NOW, today=TODAY, done_on=TODAY)
    assert [one.why for one in outcome.left] == [
        "its result is entered on its own page"
    ]


def test_making_is_undone_at_once_but_for_what_somebody_touched(
    orchard, three, cora, vera
):
    outcome = ask(orchard, three, cora)
    rows = made(outcome)
    tasks.take_task(rows[0], by=vera, now=NOW)
    undone = tasks.undo_many(outcome.change, by=cora, now=LATER)
    assert undone.done == 2
    assert [one.task for one in undone.left] == rows[:1]
    assert Task.objects.open().get() == rows[0]
    closures = Closure.objects.filter(how="cancelled", by=cora)
    assert {bool(closure.reason) for closure in closures} == {True}
    assert closures.count() == 2
    # The same can be asked for again.
    assert ask(orchard, three, cora).done == 2


def test_it_is_withdrawn_with_a_reason_and_that_is_undone(orchard, three, cora):
    rows = made(ask(orchard, three, cora))
    tasks.close(rows[0], by=cora, now=NOW, today=TODAY, evidence="Green")
    request = rows[0].request
    numbers = [task.pk for task in rows]
    assert tasks.open_tasks_of(request) == rows[1:]

    def withdraw(numbers, reason="The paint is out"):
        return tasks.withdraw_request(
            request, numbers, by=cora, now=LATER, today=TODAY, reason=reason
        )

    with refused("reason_missing"):
        withdraw(numbers, " ")
    outcome = withdraw(numbers)
    assert outcome.done == 2
    assert Closure.objects.get(task=rows[0]).how == "done"
    withdrawn = Closure.objects.filter(how="cancelled", task__in=rows[1:])
    assert {closure.reason for closure in withdrawn} == {"The paint is out"}
    lines = Change.objects.filter(verb="close", by=cora, reason="The paint is out")
    assert lines.count() == 2
    with refused("nothing_chosen"):
        withdraw(numbers)
    assert outcome.change.deed == BulkChange.Deed.CLOSE
    assert tasks.undo_many(outcome.change, by=cora, now=LATER).done == 2
    assert tasks.open_tasks_of(request) == rows[1:]


def test_it_is_moved_taken_skipped_like_any_other(orchard, three, cora, vera):
    rows = made(ask(orchard, three, cora))
    day = SOON + timedelta(days=2)
    assert tasks.move_many(rows, due_on=day, by=cora, now=NOW, today=TODAY).done == 3
    assert tasks.take_many(rows, by=vera, now=NOW).done == 3
    skipped = tasks.skip_many(rows, by=vera, now=NOW, today=TODAY, reason="Rain")
    assert skipped.done == 3
    assert not board(cora)


def test_the_trees_the_board_shows_are_those_of_the_line_or_of_all(
    orchard, three, cora, vera
):
    for tree in three[1:]:
        late_by(tree, 3, rhythm=30, title="skirt")
    late_by(three[0], -40, rhythm=30, title="mulch", opens_on=TODAY)
    late_by(three[0], 0, rhythm=1, title="r", kind="report", private=True)

    def codes(user, **shown):
        found = tasks.trees_on_board(
            member(user), today=TODAY, **{"filters": BoardFilters(), **shown}
        )
        return [tree.code for tree in found]

    assert codes(vera) == ["B-1", "B-2"]
    assert codes(cora) == ["A-5", "B-1", "B-2"]
    assert codes(vera, with_later=True) == ["A-5", "B-1", "B-2"]
    assert codes(cora, filters=BoardFilters(block="B", late=True)) == ["B-1", "B-2"]
    skirt = GroupKey(BoardBand.DUE, Task.Kind.CARE, "skirt")
    assert codes(cora, opened=skirt) == ["B-1", "B-2"]


def test_a_job_done_tree_by_tree_stands_at_each_tree_of_its_place(orchard, three, cora):
    block = three[1].spot.block
    Tree.objects.filter(code="B-2").update(state="dead", died_on=TODAY)
    [cover] = made(ask(orchard, [block], cora, job="frost_cover_on", title=""))
    assert (cover.tree, cover.block) == (three[1], block)
    whole = made(ask(orchard, [orchard], cora, job="water_new", title=""))
    assert [task.tree for task in whole] == three[:2]
    Tree.objects.filter(code="B-1").update(state="dead", died_on=TODAY)
    with refused("no_trees", match="No tree grows there") as caught:
        ask(orchard, [block], cora, job="harvest", title="")
    assert caught.value.field == "where"


def test_a_tree_that_a_job_is_not_for_gets_no_task_and_is_named(orchard, three, cora):
    potted = make_tree(orchard, "B-3", setting="container", container_litres=60)
    not_for = care_plan.trees_not_for(orchard, "water_pot", today=TODAY)
    assert not_for == {tree.pk for tree in three}
    asked = {"job": "water_pot", "title": "", "not_for": not_for}
    outcome = ask(orchard, [potted.spot.block], cora, **asked)
    assert [task.tree for task in made(outcome)] == [potted]
    assert [(one.task.tree.code, one.why) for one in outcome.left] == [
        ("B-1", "the job isn't for it"),
        ("B-2", "the job isn't for it"),
    ]
    with refused("no_trees", match="is for: Containers. No tree there") as caught:
        ask(orchard, [three[0].spot.block], cora, **asked)
    assert caught.value.field == "where"
    assert Task.objects.count() == 1


def test_a_title_of_ones_own_is_for_all_trees(orchard, three):
    assert care_plan.trees_not_for(orchard, "", today=TODAY) == frozenset()


def test_a_cover_asked_for_a_block_is_taken_off_again(orchard, three, cora):
    block = three[1].spot.block
    covers = made(ask(orchard, [block], cora, job="frost_cover_on", title=""))
    for cover in covers:
        tasks.close(cover, by=cora, now=LATER, today=TODAY, evidence="Covered")
    done = gather_context(orchard, today=TODAY).done
    assert {target.tree_id for target, job in done if job == "frost_cover_on"} == {
        tree.pk for tree in three[1:]
    }


@pytest.mark.parametrize(
    ("job", "place", "words"),
    [
        ("maturity", "tree", "Choose a block."),
        ("maturity", "orchard", "Choose a block."),
        ("frost_kit", "tree", "whole orchard. Choose that."),
        ("frost_kit", "block", "whole orchard. Choose that."),
    ],
)
def test_a_job_for_a_whole_place_goes_to_no_other(
    orchard, three, cora, job, place, words
):
    tree = three[0]
    places = {"tree": tree, "block": tree.spot.block, "orchard": orchard}
    with refused("wrong_place", match=words) as caught:
        ask(orchard, [places[place]], cora, job=job, title="")
    assert caught.value.field == "where"
    assert not Task.objects.exists()


def test_a_job_for_a_whole_place_goes_there(orchard, three, cora):
    block = three[0].spot.block
    [test] = made(ask(orchard, [block], cora, job="maturity", title=""))
    [kit] = made(ask(orchard, [orchard], cora, job="frost_kit", title=""))
    assert (test.tree, test.block) == (None, block)
    assert (kit.tree, kit.block) == (None, None)


@pytest.mark.parametrize("by_hand_first", [False, True])
def test_of_two_turns_of_one_job_the_closed_one_stays_closed(
    orchard, three, cora, by_hand_first
):
    """Asked for by the plan and by hand it is one job, open once."""

    def by_plan():
        return make_task(three[0], "skirt")

    def by_hand():
        return made(ask(orchard, three[:1], cora, job="skirt", title=""))[0]

    makers = (by_hand, by_plan) if by_hand_first else (by_plan, by_hand)
    first = makers[0]()
    closure = tasks.close(first, by=cora, now=NOW, today=TODAY, evidence="Cut")
    first.refresh_from_db()
    assert closing.can_reopen(first)
    second = makers[1]()
    assert not closing.can_reopen(first)
    with refused("newer_one_open"):
        tasks.reopen(first, by=cora, now=LATER)
    [(left, why)] = closing.reopen_all([closure], by=cora, now=LATER)
    assert (left, why) == (first, "its next turn is open already")
    assert Task.objects.open().get() == second


def test_of_two_closed_turns_of_one_job_one_is_opened_again(orchard, three, cora):
    plans = make_task(three[0], "skirt")
    closures = [tasks.close(plans, by=cora, now=NOW, today=TODAY, evidence="Cut")]
    [by_hand] = made(ask(orchard, three[:1], cora, job="skirt", title=""))
    closures.append(tasks.close(by_hand, by=cora, now=NOW, today=TODAY, evidence="Cut"))
    assert len(closing.reopen_all(closures, by=cora, now=LATER)) == 1
    assert Task.objects.open().count() == 1


def test_a_title_is_never_cut_but_refused(orchard, three, cora):
    name = guide.load().jobs["skirt"].name
    fits = "x" * (160 - len(name) - 2)
    with refused("title_too_long", match="1 character too long") as caught:
        ask(orchard, three, cora, job="skirt", title=f"{fits}x")
    assert caught.value.field == "title"
    with refused("title_too_long", match="40 characters too long"):
        ask(orchard, three, cora, title="x" * 200)
    [task] = made(ask(orchard, three[:1], cora, job="skirt", title=fits))
    assert task.title == f"{name}: {fits}"


def queries_of(deed):
    with CaptureQueriesContext(connection) as asked:
        deed()
    return len(asked)


def test_tasks_of_own_titles_cost_no_question_each(orchard, three, cora):
    """Their requests come with them: at a tree, on a round, in a deed on many."""
    row = planning.make_round(
        orchard,
        by=cora,
        trees=three[:1],
        now=NOW,
        today=TODAY,
        name="Morning",
        walk_on=TODAY,
    )

    def reads():
        now = tasks.circumstances(orchard, today=TODAY)
        shown = timeline.open_tasks(three[0], member(cora))
        return [tasks.why_it_waits(task, now) for task in shown]

    def walks():
        return rounds.round_sheet(row, member(cora), today=TODAY, now=NOW)

    def locks():
        now = tasks.circumstances(orchard, today=TODAY)
        with transaction.atomic():
            numbers = Task.objects.open().values_list("pk", flat=True)
            locked = closing.lock(numbers, *many.NAMES)
            return [tasks.why_it_waits(task, now) for task in locked]

    ask(orchard, three[:1], cora, title="Work", work="feeding")
    deeds = (reads, walks, locks)
    before = [queries_of(deed) for deed in deeds]
    for number in range(4):
        ask(orchard, three[:1], cora, title=f"Work {number}", work="feeding")
    assert [queries_of(deed) for deed in deeds] == before


def test_holds_are_said_where_the_kind_of_work_is_not_known(orchard, three, vera, cora):
    suspect(three[1], vera)
    block = three[1].spot.block
    places = [three[1], three[0], block, three[0].spot.block, orchard]
    for place in places:
        ask(orchard, [place], cora)
    ask(orchard, [three[1]], cora, title="Pick", work="picking")
    ask(orchard, [three[1]], cora, job="mulch", title="")
    now = tasks.circumstances(orchard, today=TODAY)
    [reason] = {hold.reason for hold in now.holds[three[1].pk]}
    said = [
        blockers.holds_to_mind(task, now)
        for task in Task.objects.filter(kind="once").order_by("pk")
    ]
    many = ("B-1 has a hold. Read its page first.",)
    assert said == [(reason,), (), many, (), many, (), ()]
