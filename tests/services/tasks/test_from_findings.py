"""A finding becomes work once, is refreshed by the next, and undone by a correction."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from orchard.records.models import Change, Finding, Inspection, Task, TaskRequest
from orchard.science import guide, verdict
from orchard.science.words import Verdict
from orchard.services.tasks import close as close_task
from orchard.services.tasks import open_from_finding, turns
from orchard.services.tasks import retire as retire_task
from tests.conftest import NOW
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db
MAY_1 = date(2026, 5, 1)


@dataclass(frozen=True)
class Said:
    verdict: Verdict
    due_days: int | None = None
    recheck_days: int | None = None
    because: tuple[str, ...] = ("It takes over.",)


ACT = Said(Verdict.ACT, due_days=7)
WATCH = Said(Verdict.WATCH, recheck_days=14)
REPORT = Said(Verdict.REPORT, due_days=1)
LEAVE = Said(Verdict.LEAVE)


def see(tree, by, said, *, on=MAY_1, sign="sucker", private=False) -> Finding:
    at = datetime.combine(on, time(10), ZoneInfo("UTC"))
    inspection = Inspection.objects.create(
        orchard=tree.orchard,
        tree=tree,
        by=by,
        seen_on=on,
        seen_at=at,
        made_at=at,
        received_at=at,
    )

    def after(days):
        return None if days is None else on + timedelta(days=days)

    return Finding.objects.create(
        inspection=inspection,
        tree=tree,
        sign=sign,
        verdict=said.verdict.value,
        due_on=after(said.due_days),
        recheck_on=after(said.recheck_days),
        because=list(said.because),
        rule=f"{sign}/0",
        edition="test",
        private=private,
    )


def follow(finding, said, by):
    return open_from_finding(finding, said, by=by, now=NOW)


def open_work(tree):
    tasks = Task.objects.open().filter(tree=tree).order_by("rank", "id")
    return [(task.kind, task.opens_on, task.due_on) for task in tasks]


def day(number):
    return date(2026, 5, number)


def test_a_title_has_room_for_its_sign_and_all_of_the_first_work():
    room = Task._meta.get_field("title").max_length
    for sign in guide.load().signs.values():
        for rule in sign.rules:
            work = verdict.the_work(rule.steps or sign.steps)
            if rule.verdict is Verdict.ACT and not rule.title and work:
                title = f"{sign.name}. {work.do}"
                assert len(title) <= room, f"{len(title)}: {title}"


def test_act_opens_one_task_from_the_day_it_was_seen(tree, vera):
    finding = see(tree, vera, ACT)
    (task,) = follow(finding, ACT, vera)
    assert (task.kind, task.key, task.finding) == ("act", "sucker", finding)
    assert (task.opens_on, task.due_on, task.rhythm_days) == (day(1), day(8), 7)
    assert task.title.startswith("Rootstock sucker. ")
    assert task.because == "It takes over."
    assert "Thorns" in task.caution
    assert (task.private, task.block) == (False, tree.spot.block)
    assert Change.objects.get(verb="open").subject_id == task.pk


def test_what_must_be_done_today_still_has_a_rhythm_of_a_day(tree, vera):
    said = Said(Verdict.ACT, due_days=0)
    (task,) = follow(see(tree, vera, said), said, vera)
    assert (task.due_on, task.rhythm_days) == (day(1), 1)


def test_watch_opens_a_look_some_days_before_it_is_due(tree, vera):
    (task,) = follow(see(tree, vera, WATCH), WATCH, vera)
    assert (task.kind, task.key, task.rhythm_days) == ("look", "sucker", 14)
    assert (task.opens_on, task.due_on) == (day(12), day(15))


def test_leave_asks_for_nothing_unless_it_asks_to_look_again(tree, vera):
    assert follow(see(tree, vera, LEAVE), LEAVE, vera) == []
    said = Said(Verdict.LEAVE, recheck_days=60)
    (task,) = follow(see(tree, vera, said), said, vera)
    assert task.due_on == date(2026, 6, 30)


def test_a_look_opens_by_the_figures_how_early_it_may_be_taken(tree, vera, set_figure):
    # Common practice, no source: a quarter of the wait, a week at most.
    said = Said(Verdict.LEAVE, recheck_days=60)
    (task,) = follow(see(tree, vera, said), said, vera)
    assert task.due_on - task.opens_on == timedelta(days=7)
    set_figure(look_early_most_days=20)
    (task,) = follow(see(tree, vera, said, sign="scale"), said, vera)
    assert task.due_on - task.opens_on == timedelta(days=15)


def test_act_with_a_recheck_opens_the_work_and_the_look(tree, vera):
    said = Said(Verdict.ACT, due_days=7, recheck_days=14)
    tasks = follow(see(tree, vera, said), said, vera)
    assert [task.kind for task in tasks] == ["act", "look"]


def test_report_is_private_and_in_nobodys_hands(tree, vera):
    finding = see(tree, vera, REPORT, sign="psyllid_nymph", private=True)
    (task,) = follow(finding, REPORT, vera)
    assert (task.kind, task.rank, task.private) == ("report", 0, True)
    assert (task.taken_by, task.due_on) == (None, day(2))
    assert Change.objects.get(verb="open").private


def test_a_private_finding_makes_its_look_private_too(tree, vera):
    finding = see(tree, vera, WATCH, sign="psyllid_nymph", private=True)
    (task,) = follow(finding, WATCH, vera)
    assert task.private


def test_never_a_second_task_while_one_is_open_the_sooner_day_holds(tree, vera, lee):
    (first,) = follow(see(tree, vera, ACT), ACT, vera)
    urgent = Said(Verdict.ACT, due_days=2, because=("Now it is woody.",))
    newer = see(tree, lee, urgent, on=day(3))

    (again,) = follow(newer, urgent, lee)

    assert again.pk == first.pk
    assert (again.finding, again.due_on, again.rhythm_days) == (newer, day(5), 2)
    assert again.because == "Now it is woody."
    later = Said(Verdict.ACT, due_days=30)
    (still,) = follow(see(tree, lee, later, on=day(4)), later, lee)
    assert still.due_on == day(5)
    assert Task.objects.count() == 1


def test_a_look_entered_late_does_not_take_the_place_of_a_newer_one(tree, vera, lee):
    newer = see(tree, vera, ACT, on=day(6))
    follow(newer, ACT, vera)
    old = see(tree, lee, ACT, on=day(2))
    (task,) = follow(old, ACT, lee)
    assert (task.finding, task.due_on) == (newer, day(9))


def test_closed_work_is_opened_anew_by_the_next_finding(tree, vera):
    (first,) = follow(see(tree, vera, ACT), ACT, vera)
    close_task(first, by=vera, now=NOW, today=day(2))
    (second,) = follow(see(tree, vera, ACT, on=day(9)), ACT, vera)
    assert second.pk != first.pk


def test_the_next_look_at_a_sign_closes_the_look_that_waited(tree, vera, lee):
    follow(see(tree, vera, WATCH), WATCH, vera)
    finding = see(tree, lee, WATCH, on=day(13))
    (next_look,) = follow(finding, WATCH, lee)
    closed = Task.objects.exclude(closed_at=None).get()
    assert closed.closures.get().inspection == finding.inspection
    assert (next_look.opens_on, next_look.due_on) == (day(24), day(27))


def test_a_look_before_it_opened_does_not_count(tree, vera, lee):
    follow(see(tree, vera, WATCH), WATCH, vera)
    early = see(tree, lee, LEAVE, on=day(5))
    follow(early, LEAVE, lee)
    assert [kind for kind, _opens, _due in open_work(tree)] == ["look"]
    in_time = see(tree, lee, LEAVE, on=day(12))
    follow(in_time, LEAVE, lee)
    assert open_work(tree) == []


def test_no_work_follows_on_a_tree_that_no_longer_grows(tree, vera):
    tree.state = "rootstock_only"
    tree.save()
    assert follow(see(tree, vera, ACT), ACT, vera) == []
    tree.state = "growing"
    tree.save()
    assert len(follow(see(tree, vera, ACT), ACT, vera)) == 1


def test_a_withdrawn_finding_takes_its_work_along(tree, vera):
    said = Said(Verdict.ACT, due_days=7, recheck_days=14)
    finding = see(tree, vera, said)
    follow(finding, said, vera)
    retire_task(finding, by=vera, now=NOW, reason="Wrong tree")
    assert open_work(tree) == []
    ends = [task.closures.get() for task in Task.objects.all()]
    assert {(one.how, one.reason) for one in ends} == {("cancelled", "Wrong tree")}


def test_work_goes_back_to_the_finding_that_still_stands(tree, vera, lee):
    first = see(tree, vera, ACT)
    follow(first, ACT, vera)
    urgent = Said(Verdict.ACT, due_days=1)
    second = see(tree, lee, urgent, on=day(3))
    (task,) = follow(second, urgent, lee)
    assert task.due_on == day(4)

    retire_task(second, by=lee, now=NOW, reason="Wrong tree")

    task.refresh_from_db()
    assert (task.finding, task.due_on) == (first, day(8))
    assert open_work(tree) == [("act", day(1), day(8))]


def test_work_done_on_an_earlier_finding_does_not_come_back(tree, vera, lee):
    (done,) = follow(see(tree, vera, ACT), ACT, vera)
    close_task(done, by=vera, now=NOW, today=day(2))
    second = see(tree, lee, ACT, on=day(9))
    follow(second, ACT, lee)
    retire_task(second, by=lee, now=NOW, reason="Wrong tree")
    assert open_work(tree) == []
    done.refresh_from_db()
    assert done.closed_at is not None


def test_a_look_that_a_withdrawn_inspection_closed_is_open_again(tree, vera, lee):
    (look,) = follow(see(tree, vera, WATCH), WATCH, vera)
    wrong = see(tree, lee, WATCH, on=day(13))
    follow(wrong, WATCH, lee)
    look.refresh_from_db()
    assert look.closed_at is not None

    retire_task(wrong, by=lee, now=NOW, reason="Wrong tree")

    assert open_work(tree) == [("look", day(12), day(15))]
    look.refresh_from_db()
    assert look.closed_at is None


def test_a_judgement_taken_back_and_given_again_opens_the_work_again(tree, vera):
    finding = see(tree, vera, ACT)
    follow(finding, ACT, vera)
    retire_task(finding, by=vera, now=NOW, reason="Thought better")
    (task,) = follow(finding, ACT, vera)
    assert task.closed_at is None
    assert task.occurrence == f"finding:{finding.pk}/2"


def test_turns_are_named_by_what_asked_and_taken_for_no_others():
    first, other = Finding(pk=9), Finding(pk=91)
    name = turns.next_turn(first, Task.Kind.ACT, [])
    done = Task(kind=Task.Kind.ACT, occurrence=name)
    again = turns.next_turn(first, Task.Kind.ACT, [done])
    assert (name, again) == ("finding:9", "finding:9/2")
    assert turns.next_turn(first, Task.Kind.LOOK, [done]) == name
    assert turns.next_turn(other, Task.Kind.ACT, [done]) == "finding:91"
    assert turns.turn_of_look(Inspection(pk=3)) == "inspection:3"
    assert turns.turn_of_request(TaskRequest(pk=7)) == "asked:7"


def test_a_finding_finds_the_turns_it_asked_for_itself(tree):
    for number, name in enumerate(("finding:9", "finding:9/2", "finding:91")):
        make_task(tree, key=f"work_{number}", occurrence=name)
    mine = Task.objects.filter(turns.asked_by(Finding(pk=9)))
    assert set(mine.values_list("occurrence", flat=True)) == {
        "finding:9",
        "finding:9/2",
    }
