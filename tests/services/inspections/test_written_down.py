"""What one person saw and another wrote down: both named, judged for its own day."""

from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.records.models import Change, Closure, Inspection, Membership
from orchard.services import inspections, permissions, ripeness, tasks, timeline, water
from orchard.services.errors import MayNot, NotThere
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, TODAY, make_person, make_tree
from tests.refusals import refused
from tests.services.tasks.test_board import member
from tests.services.tasks.test_tasks import make_task

pytestmark = pytest.mark.django_db
THEN = NOW - timedelta(days=3)


@pytest.fixture
def rosa(orchard):
    person = make_person("Rosa", orchard, "volunteer")
    Membership.objects.filter(user=person).update(joined_at=NOW - timedelta(days=30))
    return person


def look(tree, by, writer, **fields):
    values = {"now": NOW, "seen_at": THEN, "all_well": True, **fields}
    return inspections.record(tree, by=by, written_by=writer, **values).inspection


def test_a_look_names_who_saw_it_and_who_wrote_it_down(tree, rosa, cora):
    kept = look(tree, rosa, cora)
    assert (kept.by, kept.written_by, kept.seen_on) == (rosa, cora, THEN.date())
    assert kept.entered_by == cora
    line = Change.objects.get(subject_type="inspection")
    assert (line.by, line.by_name) == (cora, "Cora")
    assert line.after["written_down_for"] == "Rosa"
    tree.refresh_from_db()
    assert tree.last_seen_on == THEN.date()


def test_who_writes_down_their_own_look_is_named_once(tree, cora):
    Membership.objects.update(joined_at=NOW - timedelta(days=30))
    kept = look(tree, cora, cora)
    assert (kept.by, kept.written_by) == (cora, None)
    assert "written_down_for" not in Change.objects.get().after


def test_what_follows_from_it_is_of_that_day_and_of_both(tree, rosa, cora):
    task = make_task(tree, "leafminer", kind="look", opens_on=THEN.date())
    kept = look(
        tree, rosa, cora, all_well=False,
        findings=[SeenSign("leafminer", {"pct": 5}, sure=False)], bbch=65,
    )  # fmt: skip
    finding = kept.findings.get()
    own = inspections.record(
        make_tree(tree.orchard, "A-2"), by=rosa, now=THEN, seen_at=THEN,
        findings=[SeenSign("leafminer", {"pct": 5}, sure=False)], bbch=65,
    ).findings[0]  # fmt: skip
    assert (finding.verdict, finding.due_on, finding.recheck_on, finding.rule) == (
        own.verdict, own.due_on, own.recheck_on, own.rule,
    )  # fmt: skip
    closure = Closure.objects.get(task=task)
    assert (closure.by, closure.written_by) == (rosa, cora)
    assert closure.done_on == THEN.date()
    # Everything that was written with it is in the ledger under who wrote.
    assert {line.by for line in Change.objects.filter(tree=tree)} == {cora}
    # Who was not sure hears the answer, not who wrote it down.
    asked = {one.finding for one in inspections.asked_by(member(rosa))}
    assert asked == {finding, own}


def test_only_members_of_that_day_saw_anything_then(tree, rosa, cora, olga, otto):
    early = NOW - timedelta(days=31)
    with refused("no_member_then", match="Rosa only joined on 12 Apr 2026"):
        look(tree, rosa, cora, seen_at=early)
    Membership.objects.filter(user=rosa).update(left_at=NOW - timedelta(days=10))
    with refused("no_member_then", match="Rosa left on 2 May 2026"):
        look(tree, rosa, cora)
    assert look(tree, rosa, cora, seen_at=NOW - timedelta(days=11)).by == rosa
    for other in (olga, otto):
        with refused("no_member_then", match="doesn't inspect or work here"):
            look(tree, other, cora, seen_at=NOW)
    assert Inspection.objects.count() == 1


def test_it_is_never_of_a_day_to_come(tree, rosa, cora):
    with refused("seen_in_future"):
        look(tree, rosa, cora, seen_at=NOW + timedelta(days=1))
    task = make_task(tree)
    with refused("wrong_day"):
        tasks.close(
            task, by=rosa, written_by=cora, now=NOW, today=TODAY,
            done_on=TODAY + timedelta(days=1),
        )  # fmt: skip
    assert not Inspection.objects.exists()
    assert not Closure.objects.exists()


def test_corrected_by_the_writer_it_stays_whose_it_was(tree, rosa, cora, lee):
    kept = look(tree, rosa, cora)
    again = inspections.correct(
        kept, by=lee, now=NOW, reason="It said 4", all_well=True, condition=4
    ).inspection
    assert (again.by, again.written_by) == (rosa, lee)
    own = inspections.correct(
        again, by=rosa, now=NOW, reason="No, 3", all_well=True, condition=3
    ).inspection
    assert (own.by, own.written_by) == (rosa, None)


def test_moved_to_another_tree_it_keeps_both(tree, rosa, cora, lee):
    kept = look(tree, rosa, cora)
    right = make_tree(tree.orchard, "A-2")
    moved = inspections.move_inspection(
        kept, to=right, by=lee, now=NOW, reason="The tree beside"
    ).logged.inspection
    assert (moved.by, moved.written_by) == (rosa, cora)


def test_a_change_names_who_made_it_in_every_line(tree, rosa, cora, lee):
    finding = SeenSign("leafminer", {"pct": 5})
    make_task(tree, "leafminer", kind="look", opens_on=THEN.date())
    kept = look(tree, rosa, cora, all_well=False, findings=[finding])
    right = make_tree(tree.orchard, "A-2")
    for key in ("leafminer", "aphids"):
        make_task(right, key, kind="look", opens_on=THEN.date())

    def by_whom(change):
        last = Change.objects.latest("pk").pk
        change()
        lines = Change.objects.filter(pk__gt=last)
        assert lines.filter(verb="close").exists()
        return {line.by for line in lines if line.by}

    moved = []
    assert by_whom(
        lambda: moved.append(
            inspections.move_inspection(
                kept, to=right, by=lee, now=NOW, reason="The tree beside"
            ).logged.inspection
        )
    ) == {lee}
    assert by_whom(
        lambda: inspections.correct(
            moved[0], by=lee, now=NOW, reason="Aphids as well",
            findings=[finding, SeenSign("aphids")],
        )
    ) == {lee}  # fmt: skip


def test_corrected_to_another_day_it_was_seen_by_a_member_of_that_day(
    tree, rosa, cora, lee
):
    kept = look(tree, rosa, cora)
    early = NOW - timedelta(days=31)
    change = {"by": lee, "now": NOW, "reason": "Another day", "all_well": True}
    with refused("no_member_then", match="Rosa only joined on 12 Apr 2026"):
        inspections.correct(kept, seen_at=early, **change)
    kept.refresh_from_db()
    assert kept.is_current
    there = inspections.correct(kept, seen_at=THEN - timedelta(days=1), **change)
    assert there.inspection.seen_on == THEN.date() - timedelta(days=1)
    # Its day was checked when it came in; who leaves later did see it.
    Membership.objects.filter(user=rosa).update(left_at=NOW - timedelta(days=10))
    again = inspections.correct(there.inspection, condition=4, **change).inspection
    assert (again.by, again.condition) == (rosa, 4)


def test_a_closing_and_its_litres_name_both(tree, rosa, cora):
    closed = tasks.close(
        make_task(tree), by=rosa, written_by=cora, now=NOW, today=TODAY,
        done_on=THEN.date(), evidence="Two",
    )  # fmt: skip
    assert (closed.by, closed.written_by) == (rosa, cora)
    assert Change.objects.get(verb="close").by == cora
    watered = water.close_watering(
        make_task(tree, "water_new"), litres=20, by=rosa, written_by=cora, now=NOW,
        today=TODAY, done_on=THEN.date(),
    )  # fmt: skip
    assert (watered.by, watered.written_by) == (rosa, cora)
    assert Change.objects.get(subject_type="watering").by == cora
    with refused("no_member_then"):
        tasks.close(
            make_task(tree, "skirt"), by=rosa, written_by=cora, now=NOW, today=TODAY,
            done_on=TODAY - timedelta(days=60),
        )  # fmt: skip


def test_a_ripeness_test_names_both_and_stays_the_testers(tree, rosa, cora, lee):
    def note(**fields):
        values = {"tested_on": THEN.date(), "fruits": 5, "brix_read": 11.0}
        return ripeness.note_and_open(
            tree, by=rosa, written_by=cora, now=NOW, today=TODAY, **values | fields
        )

    row = note()[0].test
    assert (row.by, row.written_by) == (rosa, cora)
    line = Change.objects.get(subject_type="ripenesstest")
    assert (line.by, line.after["written_down_for"]) == (cora, "Rosa")
    again = ripeness.correct_test(
        row, by=lee, now=NOW, today=TODAY, reason="12", brix_read=12.0
    ).test
    assert (again.by, again.written_by) == (rosa, lee)
    early = TODAY - timedelta(days=60)
    with refused("no_member_then", match="Rosa only joined on 12 Apr 2026"):
        ripeness.correct_test(
            again, by=lee, now=NOW, today=TODAY, reason="Earlier", tested_on=early
        )
    with refused("no_member_then"):
        note(tested_on=TODAY - timedelta(days=60))


def test_a_trees_history_tells_both(tree, rosa, cora, vera):
    look(tree, rosa, cora)
    tasks.close(
        make_task(tree), by=rosa, written_by=cora, now=NOW, today=TODAY, evidence="Two"
    )
    told = timeline.timeline_of(tree, member(vera), today=TODAY).events
    both = [(event.by, event.written_by) for event in told if event.by]
    assert both == [("Rosa", "Cora"), ("Rosa", "Cora")]


def test_only_those_who_lead_write_for_others(rosa, vera, lee, cora, otto):
    for leader in (lee, cora):
        assert permissions.written_for(member(leader), rosa.pk) == rosa
        names = [
            one.user.name for one in permissions.people_to_write_for(member(leader))
        ]
        assert "Rosa" in names
    with pytest.raises(MayNot):
        permissions.written_for(member(vera), rosa.pk)
    with pytest.raises(NotThere):
        permissions.written_for(member(cora), otto.pk)
