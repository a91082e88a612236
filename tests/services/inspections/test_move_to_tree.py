"""A look on the wrong tree is moved: traces on both, work put right on both."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from io import BytesIO

import pytest
from PIL import Image

from orchard.records.models import (
    Case,
    Change,
    Finding,
    Inspection,
    Membership,
    Photo,
    StageNote,
    Task,
)
from orchard.services import inbox, inspections, photos, tasks, timeline
from orchard.services.errors import NotThere, Refused
from orchard.services.inspections import SeenSign
from tests.conftest import NOW, TODAY, make_orchard, make_person, make_tree
from tests.refusals import refused
from tests.services.inbox.test_inbox import an_entry, send
from tests.services.photos.test_photos import file as a_photo
from tests.services.tasks.test_tasks import make_task

NEXT_DAY = NOW + timedelta(days=1)
SUCKER = SeenSign("sucker", {"graft": "below", "woody": False})
LOOKS = (timeline.Rank.LOOK, timeline.Rank.SHIFTED)
WHY = "The tag beside it was scanned"


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


@pytest.fixture
def wrong(orchard):
    return make_tree(orchard, "A-12")


@pytest.fixture
def right(orchard):
    return make_tree(orchard, "A-21")


def record(tree, by, **look):
    return inspections.record(tree, by=by, **{"now": NOW, "seen_at": NOW, **look})


def move(logged, to, by, now=NEXT_DAY, reason=WHY):
    return inspections.move_inspection(
        logged.inspection, to=to, by=by, now=now, reason=reason
    )


def picture():
    out = BytesIO()
    Image.new("RGB", (60, 40), "red").save(out, "PNG")
    out.seek(0)
    return photos.read_picture(out)


def told(tree, user):
    member = Membership.objects.select_related("orchard", "user").get(user=user)
    told = timeline.timeline_of(tree, member, today=NEXT_DAY.date()).events
    return [event for event in told if event.mark.rank in LOOKS]


def test_what_was_done_at_once_is_done_on_the_right_tree_and_gone_from_the_wrong(
    wrong, right, vera
):
    logged = record(wrong, vera, findings=[replace(SUCKER, done=True)])
    moved = move(logged, right, vera)
    acts = Task.objects.filter(kind="act", key="sucker")
    assert not acts.open().exists()
    closure = acts.get(tree=right).closures.get()
    assert closure.inspection == moved.logged.inspection
    assert moved.reopened == ()


def test_the_work_is_open_again_on_the_wrong_tree_and_done_on_the_right(
    wrong, right, vera
):
    mistaken, meant = make_task(wrong), make_task(right)
    logged = record(wrong, vera, condition=3, done_tasks=[mistaken.pk])
    moved = move(logged, right, vera)
    mistaken.refresh_from_db()
    meant.refresh_from_db()
    assert mistaken.closed_at is None
    assert moved.reopened == (mistaken,)
    closure = meant.closures.get(undone_at=None)
    assert (closure.by, closure.done_on) == (vera, TODAY)
    assert closure.inspection == moved.logged.inspection


def test_both_trees_show_the_move(wrong, right, vera, lee):
    logged = record(wrong, vera, note="Scale on the twigs")
    moved = move(logged, right, lee)
    [gone] = told(wrong, lee)
    assert "moved to A-21" in gone.title
    assert (gone.note, gone.by) == (WHY, "Lee")
    assert gone.target == ("inspection", logged.inspection.pk)
    came, look = told(right, lee)
    assert "moved here from A-12" in came.title
    assert look.target == ("inspection", moved.logged.inspection.pk)
    assert (look.by, look.note) == ("Vera", "Scale on the twigs")
    verbs = Change.objects.filter(verb="move").order_by("pk").values_list("tree", "by")
    assert list(verbs) == [(wrong.pk, lee.pk), (right.pk, lee.pk)]


def test_it_stays_the_observers_look_of_its_own_day_and_hour(wrong, right, vera, lee):
    logged = record(wrong, vera, all_well=True, made_at=NOW - timedelta(minutes=3))
    old, new = logged.inspection, move(logged, right, lee).logged.inspection
    for field in ("by", "seen_at", "seen_on", "made_at", "received_at"):
        assert getattr(new, field) == getattr(old, field), field
    assert new.corrects == old
    old.refresh_from_db()
    assert old.superseded_at == NEXT_DAY


def test_the_verdict_is_given_anew_by_the_facts_of_the_right_tree(orchard, wrong, vera):
    own_roots = make_tree(orchard, "A-21", own_roots=True, kind="Improved Meyer")
    logged = record(wrong, vera, findings=[SUCKER])
    [before] = logged.findings
    # Common practice, no source: what shoots from a tree on its own roots is the
    # cultivar itself, so nothing is cut there.
    moved = move(logged, own_roots, vera)
    [after] = moved.logged.findings
    assert (before.verdict, after.verdict == "act") == ("act", False)
    assert after.facts["on_own_roots"] is True
    assert Finding.objects.get(pk=before.pk).verdict == "act"
    assert not Task.objects.open().filter(tree=wrong).exists()


def test_work_that_followed_falls_away_there_and_opens_here(wrong, right, vera):
    logged = record(wrong, vera, findings=[SUCKER])
    move(logged, right, vera)
    [task] = Task.objects.open().filter(kind="act", key="sucker")
    assert (task.tree, task.due_on) == (right, TODAY + timedelta(days=14))
    fallen = Task.objects.get(kind="act", key="sucker", tree=wrong)
    assert fallen.closures.get().how == "cancelled"
    assert fallen.closures.get().reason == WHY


def test_work_that_others_found_on_the_wrong_tree_stays(wrong, right, vera, lee):
    record(wrong, lee, findings=[SUCKER], seen_at=NOW - timedelta(days=2))
    move(record(wrong, vera, findings=[SUCKER]), right, vera)
    assert Task.objects.open().filter(kind="act", key="sucker").count() == 2


def test_a_look_that_was_due_waits_again_there_and_is_done_here(wrong, right, vera):
    looks = {tree: make_task(tree, "aphids", kind="look") for tree in (wrong, right)}
    logged = record(wrong, vera, all_well=True)
    assert Task.objects.get(pk=looks[wrong].pk).closed_at
    move(logged, right, vera)
    assert Task.objects.get(pk=looks[wrong].pk).closed_at is None
    assert Task.objects.get(pk=looks[right].pk).closed_at


def test_work_done_by_somebody_else_on_the_right_tree_is_told_not_lost(
    wrong, right, vera, lee
):
    mistaken, meant = make_task(wrong), make_task(right)
    logged = record(wrong, vera, note="Cut two", done_tasks=[mistaken.pk])
    later = NOW + timedelta(hours=2)
    tasks.close(meant, by=lee, now=later, today=TODAY)
    moved = move(logged, right, vera)
    assert moved.logged.inspection.also_ticked == [meant.pk]
    assert meant.closures.get().by == lee
    [look] = [event for event in told(right, vera) if event.done_before]
    assert look.done_before == ("Sucker round: already done by Lee, 12 May 2026",)


def test_condition_and_last_seen_go_along(wrong, right, vera):
    record(wrong, vera, condition=2, seen_at=NOW - timedelta(days=9))
    logged = record(wrong, vera, condition=5)
    move(logged, right, vera)
    for tree in (wrong, right):
        tree.refresh_from_db()
    assert (wrong.last_seen_on, wrong.condition) == (date(2026, 5, 3), 2)
    assert (right.last_seen_on, right.condition) == (TODAY, 5)


def test_photos_and_the_growth_stage_go_along(wrong, right, vera):
    seen = SeenSign("sucker", {"graft": "below"}, pictures=[picture()])
    logged = record(wrong, vera, findings=[seen], bbch=65)
    moved = move(logged, right, vera)
    photo = Photo.objects.get()
    assert photo.trees.get() == right
    assert photo.inspections.get() == moved.logged.inspection
    assert photo.findings.get() == moved.logged.findings[0]
    [stage] = StageNote.objects.current()
    assert (stage.tree, stage.bbch, stage.by) == (right, 65, vera)
    assert moved.logged.findings[0].facts["bbch"] == 65


def test_the_growth_stage_still_goes_along_when_it_is_moved_on(
    orchard, wrong, right, vera, lee
):
    third = make_tree(orchard, "A-22")
    first = move(record(wrong, vera, bbch=65), right, lee)
    second = move(first.logged, third, vera, now=NEXT_DAY + timedelta(days=1))
    assert StageNote.objects.current().get().tree == third
    assert second.logged.inspection.by == vera
    assert told(third, vera)[0].title.endswith("from A-21")


def test_a_photo_that_arrives_after_the_move_finds_the_right_tree(
    wrong, right, vera, now
):
    entry = an_entry(vera, now, tree="A-12", form=[("note", "Gum on the trunk")])
    kept = send(entry, vera, now)
    logged = Inspection.objects.get(pk=kept.subject_id)
    inspections.move_inspection(logged, to=right, by=vera, now=now, reason=WHY)
    photo = an_entry(
        vera, now, kind=inbox.EntryKind.PHOTO, parent=entry.key, file=a_photo(), tree=""
    )
    assert send(photo, vera, now).answer is inbox.Answer.KEPT
    assert Photo.objects.get().trees.get() == right


def test_a_case_stays_open_where_it_was_and_one_opens_on_the_right_tree(
    wrong, right, vera, lee
):
    logged = record(wrong, vera, findings=[SeenSign("psyllid_nymph", {"count": 2})])
    moved = move(logged, right, vera)
    assert moved.cases == tuple(logged.cases)
    assert {case.tree for case in Case.objects.open()} == {wrong, right}
    # Why it was moved may tell the suspicion.
    eddy = make_person("Eddy", wrong.orchard, "educator")
    assert [event.note for event in told(wrong, eddy)] == [""]
    assert [event.note for event in told(wrong, lee) if "moved" in event.title] == [WHY]


def test_a_moved_look_can_be_moved_back(wrong, right, vera):
    task = make_task(wrong)
    first = move(record(wrong, vera, note="x", done_tasks=[task.pk]), right, vera)
    make_task(right)
    back = move(first.logged, wrong, vera, now=NEXT_DAY + timedelta(hours=1))
    assert back.logged.inspection.tree == wrong
    assert not Inspection.objects.current().filter(tree=right).exists()


@pytest.mark.parametrize(
    ("where", "refusal"),
    [("same", Refused), ("elsewhere", Refused)],
)
def test_it_goes_to_another_tree_of_the_same_orchard(wrong, vera, where, refusal):
    logged = record(wrong, vera, all_well=True)
    tree = wrong if where == "same" else make_tree(make_orchard("far"), "Z-1")
    with pytest.raises(refusal):
        move(logged, tree, vera)
    assert Inspection.objects.current().get() == logged.inspection


def test_a_tree_that_was_not_there_yet_takes_no_look(orchard, wrong, vera):
    young = make_tree(orchard, "A-30", planted_on=NEXT_DAY.date())
    logged = record(wrong, vera, findings=[SUCKER])
    with refused("seen_before_planted"):
        move(logged, young, vera)
    assert Inspection.objects.current().get() == logged.inspection
    assert Task.objects.open().get(kind="act", key="sucker").tree == wrong


def test_a_move_says_why_and_is_made_by_who_looked_or_leads(
    orchard, wrong, right, vera, lee
):
    logged = record(wrong, vera, all_well=True)
    victor = make_person("Victor", orchard, "volunteer")
    with refused("reason_missing"):
        move(logged, right, vera, reason="  ")
    with refused("not_yours"):
        move(logged, right, victor)
    with pytest.raises(NotThere):
        move(logged, right, make_person("Far", make_orchard("far"), "lead"))
    assert move(logged, right, lee)
    with refused("not_current"):
        move(logged, right, lee)
