"""Inspections: recorded once, judged on the server, followed by work, never erased."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from io import BytesIO

import pytest
from django.core.files.storage import default_storage
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from PIL import Image

from orchard.records.models import (
    Case,
    Change,
    Closure,
    Finding,
    Inspection,
    PestStatus,
    Photo,
    SecondLook,
    StageNote,
    Task,
    Tree,
)
from orchard.science import guide
from orchard.services import facts, inspections, permissions, photos
from orchard.services.errors import NotThere
from orchard.services.facts.tree import gather
from orchard.services.inspections import (
    SeenSign,
    Submission,
    TreeLook,
    recording,
    submission,
)
from tests.conftest import NOW, TODAY, make_tree
from tests.refusals import refused
from tests.services.tasks.test_tasks import make_task

SUCKER = SeenSign("sucker", {"graft": "below", "woody": False})


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


def record(tree, by, **look):
    look = {"now": NOW, "seen_at": NOW, **look}
    return inspections.record(tree, by=by, **look)


def picture(colour="red"):
    out = BytesIO()
    Image.new("RGB", (60, 40), colour).save(out, "PNG")
    out.seek(0)
    return photos.read_picture(out)


def test_a_clean_tree_is_seen_today(tree, vera):
    logged = record(tree, vera, all_well=True, condition=4)
    tree.refresh_from_db()
    assert (tree.last_seen_on, tree.condition) == (TODAY, 4)
    assert not logged.findings
    line = Change.objects.get(verb="record")
    assert (line.by, line.tree, line.after["all_well"]) == (vera, tree, True)


def test_a_sucker_below_the_graft_is_acted_on_and_says_why(tree, vera):
    logged = record(tree, vera, findings=[SUCKER])
    [finding] = logged.findings
    # Common practice, no source: a shoot from below the graft comes off.
    assert finding.verdict == "act"
    assert finding.due_on == TODAY + timedelta(days=14)
    assert any("graft line: below" in sentence for sentence in finding.because)
    assert finding.facts["graft"] == "below"
    assert finding.facts["sm"] == 3
    assert finding.edition
    assert finding.rule.startswith("sucker/")
    task = Task.objects.get(kind="act", key="sucker")
    assert (task.due_on, task.tree, task.finding) == (finding.due_on, tree, finding)
    assert task.title == "Rootstock sucker. Pull it off while it is green"


def test_an_answer_about_the_tree_serves_every_sign_of_the_look(tree, vera):
    wilting = SeenSign("wilt_dry", {"soil": "dry", "droops_at_dawn": True})
    pale = SeenSign("iron_young", {"pct": 20})
    found = record(tree, vera, findings=[pale, wilting]).findings
    assert [finding.facts["soil"] for finding in found] == ["dry", "dry"]
    assert found[0].rule == "iron_young/1"


def test_what_nobody_knows_is_looked_at_by_a_second_person(tree, vera):
    record(tree, vera, findings=[SeenSign("unknown_new", {"yes": False})])
    assert SecondLook.objects.get().finding.sign == "unknown_new"


def test_a_fly_known_here_is_acted_on_by_the_steps_of_its_rule(tree, vera):
    for code in ("CERTCA", "DACUTR"):
        PestStatus.objects.update_or_create(
            orchard=tree.orchard,
            code=code,
            defaults={"status": "common", "set_at": NOW, "set_by": vera},
        )
    record(tree, vera, findings=[SeenSign("fruit_fly", {"count": 2})])
    task = Task.objects.get(kind="act", key="fruit_fly")
    assert task.title == "Fruit fly. Pick up ripe and fallen fruit"


def test_title_and_caution_are_those_of_the_rule_that_matched(tree, vera):
    woody = SeenSign("sucker", {"graft": "below", "woody": True})
    record(tree, vera, findings=[woody])
    task = Task.objects.get(kind="act", key="sucker")
    assert task.title == "Rootstock sucker. Cut it off flush"
    assert "Cut away from your hand" in task.caution
    record(tree, vera, findings=[SUCKER], seen_at=NOW + timedelta(minutes=1))
    task.refresh_from_db()
    assert task.title == "Rootstock sucker. Pull it off while it is green"
    assert "Cut away from your hand" not in task.caution


def test_an_own_root_tree_has_no_suckers_to_act_on(orchard, vera):
    meyer = make_tree(orchard, "M-1", own_roots=True, kind="Improved Meyer")
    [finding] = record(meyer, vera, findings=[SUCKER]).findings
    assert finding.verdict != "act"
    assert not Task.objects.filter(kind="act", key="sucker").exists()


def test_an_answer_left_open_is_watched_and_asked_for_never_left(tree, vera):
    [finding] = record(tree, vera, findings=[SeenSign("sucker")]).findings
    assert finding.verdict == "watch"
    assert finding.asks


def test_what_is_noted_at_the_same_look_counts_for_its_verdict(tree, vera):
    logged = record(tree, vera, bbch=15, findings=[SeenSign("leafminer", {"pct": 10})])
    assert logged.findings[0].facts["flush"] is True
    assert StageNote.objects.get().bbch == 15


@pytest.mark.parametrize("state", ["dead", "rootstock_only"])
def test_a_tree_that_is_no_more_takes_no_inspection(tree, vera, state):
    assert record(tree, vera, all_well=True).inspection.pk
    Tree.objects.filter(pk=tree.pk).update(state=state)
    tree.refresh_from_db()
    with refused("no_verdicts", match="can't be inspected"):
        record(tree, vera, all_well=True)


def test_a_clock_a_little_ahead_is_let_pass_and_tomorrow_is_not(tree, vera):
    assert record(tree, vera, all_well=True, seen_at=NOW + timedelta(minutes=4))
    with refused("seen_in_future"):
        record(tree, vera, all_well=True, seen_at=NOW + timedelta(minutes=6))


def test_nobody_inspects_a_tree_before_it_was_planted(tree, vera):
    day = datetime(2016, 3, 20, 12, tzinfo=UTC)
    assert record(tree, vera, all_well=True, seen_at=day)
    with refused("seen_before_planted", match="planted on"):
        record(tree, vera, all_well=True, seen_at=day - timedelta(days=1))


@pytest.mark.parametrize("condition", [0, 6, -1])
def test_condition_goes_from_one_to_five(tree, vera, condition):
    assert record(tree, vera, condition=5).inspection.condition == 5
    with refused("bad_condition"):
        record(tree, vera, condition=condition)


@pytest.mark.parametrize("species", ['["a"]', "{}", "1_000", "ctv000", "other"])
def test_a_species_that_a_sign_cannot_be_of_is_refused_beside_its_question(
    tree, vera, species
):
    seen = SeenSign("fast_decline", {"species": species})
    with refused("bad_answer", match="choose one of the answers") as caught:
        record(tree, vera, findings=[seen])
    assert caught.value.field == "fast_decline:species"
    seen = SeenSign("fast_decline", {"species": "CTV000"})
    assert record(tree, vera, findings=[seen]).findings


def test_all_well_and_a_sign_do_not_go_together(tree, vera):
    with refused("well_with_sign"):
        record(tree, vera, all_well=True, findings=[SUCKER])
    assert not Inspection.objects.exists()


def test_an_empty_form_is_no_record(tree, vera):
    with refused("nothing_noted"):
        record(tree, vera, note="   ")
    assert record(tree, vera, note="Bees about").inspection.note == "Bees about"


def test_a_photo_without_a_word_is_a_record_and_no_check(tree, vera):
    record(tree, vera, findings=[SUCKER], seen_at=NOW - timedelta(days=60))
    make_task(tree, "monthly_look")
    waiting = Task.objects.open().filter(tree=tree).count()
    tree.refresh_from_db()
    before = (tree.last_seen_on, tree.condition)
    kept = record(tree, vera, pictures=[picture()]).inspection
    assert kept.photo_only
    assert kept.photos.count() == 1
    tree.refresh_from_db()
    assert (tree.last_seen_on, tree.condition) == before
    assert Task.objects.open().filter(tree=tree).count() == waiting
    # A word makes it a check: the look at the sucker that was waited for is done.
    assert not record(
        tree, vera, all_well=True, pictures=[picture()]
    ).inspection.photo_only
    tree.refresh_from_db()
    assert tree.last_seen_on == TODAY
    assert Task.objects.open().filter(tree=tree).count() < waiting


@pytest.mark.parametrize(
    "word", [{"condition": 4}, {"note": "Bees"}, {"bbch": 65}, {"findings": [SUCKER]}]
)
def test_a_photo_with_any_word_is_an_ordinary_look(tree, vera, word):
    assert not record(tree, vera, pictures=[picture()], **word).inspection.photo_only


def test_photos_that_are_announced_make_a_record_and_nothing_makes_none(tree, vera):
    announced = submission.Arrival(photos_follow=True)
    assert record(tree, vera, arrival=announced).inspection.photo_only
    with refused("nothing_noted", match="take a photo"):
        record(tree, vera, arrival=submission.Arrival())


def test_a_corrected_photo_without_a_word_stays_one_until_something_is_said(tree, vera):
    first = record(tree, vera, pictures=[picture()]).inspection
    again = inspections.correct(
        first,
        by=vera,
        now=NOW,
        reason="An hour earlier",
        seen_at=NOW - timedelta(hours=1),
    ).inspection
    assert again.photo_only
    assert again.photos.count() == 1
    tree.refresh_from_db()
    assert tree.last_seen_on is None
    said = inspections.correct(
        again, by=vera, now=NOW, reason="It was fine", all_well=True
    )
    assert not said.inspection.photo_only
    tree.refresh_from_db()
    assert tree.last_seen_on == TODAY


def test_a_look_from_which_a_word_is_taken_stays_a_check(tree, vera):
    logged = record(tree, vera, note="Thin at the top.", pictures=[picture()])
    corrected = inspections.correct(
        logged.inspection, by=vera, now=NOW, reason="That was the neighbour"
    )
    assert not corrected.inspection.photo_only


@pytest.mark.parametrize(
    ("seen", "said"),
    [
        (SeenSign("dragon"), "no sign"),
        (SeenSign("codling"), "this sort of tree"),
        (SeenSign("leafminer", {"pct": 101}), "from 0 to 100"),
        (SeenSign("leafminer", {"pct": -1}), "from 0 to 100"),
        (SeenSign("leafminer", {"pct": float("nan")}), "from 0 to 100"),
        (SeenSign("psyllid_nymph", {"count": 1.5}), "whole number"),
        (SeenSign("sucker", {"graft": "sideways"}), "choose one"),
        (SeenSign("sucker", {"woody": "yes"}), "choose one"),
        (SeenSign("sucker", {"soil_c": 12}), "does not ask"),
        (SeenSign("sucker", {"tree_state": "alive"}), "does not ask"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(tree, vera, seen, said):
    with pytest.raises(submission.Refused, match=said):
        record(tree, vera, findings=[seen])
    assert not Inspection.objects.exists()


def test_a_sign_stands_once_on_a_form(tree, vera):
    with refused("sign_twice"):
        record(tree, vera, findings=[SUCKER, SeenSign("sucker")])


def test_the_same_form_twice_is_one_inspection(tree, vera, lee):
    key = uuid.uuid4()
    first = record(tree, vera, findings=[SUCKER], key=key)
    again = record(tree, vera, findings=[SUCKER], key=key)
    assert again.already
    assert again.inspection == first.inspection
    assert Inspection.objects.count() == Finding.objects.count() == 1
    with refused("key_taken"):
        record(tree, lee, all_well=True, key=key)


def walk(orchard, by):
    """Return the looks of a morning at four trees, with work, a tick and a stage."""
    for code in ("A-2", "A-3", "A-4"):
        make_tree(orchard, code)
    trees = Tree.objects.in_orchard(orchard).order_by("code")
    trees = list(trees.select_related("orchard", "kind", "spot__block"))
    record(trees[1], by, findings=[SUCKER], seen_at=NOW - timedelta(days=9))
    ticked = Task.objects.get(kind="act", key="sucker", tree=trees[1]).pk
    aphids = SeenSign("aphids", {"pct": 5})
    seen = [
        {"findings": (SUCKER, aphids), "condition": 3},
        {"findings": (aphids,), "done_tasks": (ticked,)},
        {"all_well": True, "bbch": 65, "pictures": (picture(),)},
        {"note": "Thin at the top."},
    ]
    return [
        TreeLook(
            tree,
            Submission(seen_at=NOW - timedelta(minutes=60 - 5 * place), **fields),
            by=by,
            now=NOW,
            key=uuid.uuid4(),
        )
        for place, (tree, fields) in enumerate(zip(trees, seen, strict=True))
    ]


def book() -> list:
    """Return all that looks write, without the numbers of new rows."""
    looks = Inspection.objects.order_by("tree__code", "seen_at")
    found = Finding.objects.order_by("tree__code", "sign", "inspection__seen_at")
    tasks = Task.objects.order_by("tree__code", "kind", "key", "opens_on")
    lines = Change.objects.order_by("tree__code", "verb", "subject_type", "reason")
    return [
        *looks.values_list("tree__code", "seen_at", "all_well", "condition", "note"),
        *found.values_list("tree__code", "sign", "verdict", "rule", "continues__sign"),
        *tasks.values_list("tree__code", "kind", "key", "due_on", "closed_at"),
        *Closure.objects.order_by("task__tree__code", "task__kind", "task__key")
        .values_list("task__tree__code", "task__key", "evidence", "done_on", "by"),
        *lines.values_list("tree__code", "verb", "subject_type", "at", "by"),
        *Tree.objects.order_by("code").values_list("code", "last_seen_on", "condition"),
        *StageNote.objects.values_list("tree__code", "bbch", "seen_on"),
        *Photo.objects.values_list("trees__code", "sha256"),
    ]  # fmt: skip


def test_a_mornings_looks_come_to_the_same_at_once_as_one_by_one(orchard, tree, vera):
    looks = walk(orchard, vera)
    site = facts.read_site(orchard, TODAY)
    with transaction.atomic():
        with CaptureQueriesContext(connection) as singly:
            for look in looks:
                inspections.submit_all([look], site=site)
        one_by_one = book()
        transaction.set_rollback(True)
    before = book()
    with CaptureQueriesContext(connection) as together:
        logged = inspections.submit_all(looks, site=site)
    assert [row.inspection.tree_id for row in logged] == [row.tree.pk for row in looks]
    assert [len(row.findings) for row in logged] == [2, 1, 0, 0]
    assert book() == one_by_one != before
    # Trees, what is open at them, what was found before, the looks and the ledger.
    assert len(together) <= len(singly) - 4 * (len(looks) - 1)


def test_of_a_mornings_looks_none_is_kept_when_one_is_refused(orchard, tree, vera):
    looks = walk(orchard, vera)
    before, ahead = book(), NOW + timedelta(hours=1)
    late = replace(looks[3], submission=Submission(seen_at=ahead, note="Later"))
    with refused("seen_in_future"):
        inspections.submit_all([*looks[:3], late])
    with refused("tree_twice", match="A-1 is there twice"):
        inspections.submit_all([looks[0], replace(looks[0], key=uuid.uuid4())])
    with refused("key_taken"):
        inspections.submit_all([looks[0], replace(looks[1], key=looks[0].key)])
    assert book() == before


def test_a_morning_that_was_sent_before_is_kept_once(orchard, tree, vera):
    looks = walk(orchard, vera)
    inspections.submit_all(looks[:2])
    logged = inspections.submit_all(looks)
    assert [row.already for row in logged] == [True, True, False, False]
    assert Inspection.objects.filter(key__in=[look.key for look in looks]).count() == 4


def test_a_form_that_is_overtaken_by_itself_is_kept_once(tree, vera, monkeypatch):
    key = uuid.uuid4()
    first = record(tree, vera, note="x", key=key)
    looked_up, looks = recording._kept_before, []

    def late(*args):
        looks.append(args)
        # The first look came before the other form was written.
        return looked_up(*args) if len(looks) > 1 else None

    monkeypatch.setattr(recording, "_kept_before", late)
    again = record(tree, vera, note="x", key=key, pictures=[picture()])
    assert again.already
    assert again.inspection == first.inspection
    assert Inspection.objects.count() == 1
    assert not Photo.objects.exists()


def test_a_photo_that_two_send_at_once_is_kept_by_the_first(
    orchard, tree, vera, monkeypatch
):
    other = make_tree(orchard, "A-2")
    record(other, vera, note="x", pictures=[picture()])
    current, looks = Photo.objects.current, []

    def late():
        looks.append(True)
        return current() if len(looks) > 1 else Photo.objects.none()

    monkeypatch.setattr(Photo.objects, "current", late)
    logged = record(tree, vera, note="y", pictures=[picture()])
    assert logged.photos_elsewhere
    assert Inspection.objects.count() == 2
    assert Photo.objects.count() == 1


def test_days_count_from_the_day_it_was_seen(tree, vera):
    seen_at = NOW - timedelta(days=8)
    logged = record(tree, vera, findings=[SUCKER], seen_at=seen_at)
    assert logged.findings[0].due_on == TODAY + timedelta(days=6)
    assert logged.inspection.received_at == NOW


def test_the_day_is_the_orchards_own(southbank, otto):
    # Adelaide is 9.5 hours ahead of UTC in May (IANA time zone database).
    tree = make_tree(southbank, "S-1")
    seen_at = datetime(2026, 5, 11, 22, 0, tzinfo=UTC)
    assert record(
        tree, otto, all_well=True, seen_at=seen_at
    ).inspection.seen_on == date(2026, 5, 12)


def test_a_southern_orchard_judges_by_its_own_season(southbank, otto, tree):
    # Meteorological seasons by three months: May is autumn in the south (WMO).
    south = make_tree(southbank, "S-1")
    assert gather(south, on=TODAY).base["season"] == "autumn"
    assert gather(tree, on=TODAY).base["season"] == "spring"


def test_frost_is_asked_of_the_orchards_own_season(orchard, southbank, tree):
    # SM9-01 to SM1-15 is November to mid March in the north, May to mid September
    # in the south.
    south = make_tree(southbank, "S-1")

    def frost(which, day):
        return gather(which, on=day).base.get("frost_ahead")

    assert frost(tree, date(2026, 11, 1)) is frost(tree, date(2027, 3, 15)) is True
    assert frost(tree, date(2026, 3, 16)) is frost(tree, date(2026, 10, 31)) is False
    assert frost(south, date(2026, 5, 1)) is frost(south, date(2026, 9, 15)) is True
    assert frost(south, date(2026, 9, 16)) is frost(south, date(2026, 4, 30)) is False
    orchard.frost_from = orchard.frost_to = ""
    tree.orchard = orchard
    assert frost(tree, TODAY) is None


def test_ticked_tasks_are_done_by_the_look(tree, vera):
    record(tree, vera, findings=[SUCKER])
    task = Task.objects.get(kind="act", key="sucker")
    logged = record(tree, vera, all_well=True, done_tasks=[task.pk])
    closure = Closure.objects.get(task=task)
    assert (closure.inspection, closure.how) == (logged.inspection, "done")
    assert closure.is_proven
    again = record(tree, vera, note="Twice", done_tasks=[task.pk])
    assert again.closed_before == (task.pk,)


DONE = replace(SUCKER, done=True)


def acts():
    return Task.objects.filter(kind="act", key="sucker")


def test_what_was_done_at_the_look_that_found_it_is_no_task_of_anybodys(tree, vera):
    seen = replace(DONE, pictures=(picture(),))
    logged = record(tree, vera, findings=[seen])
    [finding] = logged.findings
    task = acts().get()
    closure = task.closures.get()
    assert (closure.by, closure.how, closure.done_on) == (vera, "done", TODAY)
    assert (closure.inspection, task.finding) == (logged.inspection, finding)
    assert task.closed_at == NOW
    # The picture of the finding is what proves the work.
    assert list(closure.photos.all()) == list(finding.photos.all()) != []
    assert logged.nothing_to_do == ()
    # What is to be looked at again stays open.
    assert Task.objects.open().get().kind == "look"


def test_what_somebody_should_do_stays_open(tree, vera):
    record(tree, vera, findings=[SUCKER])
    assert acts().open().exists()


def test_work_that_was_open_for_the_sign_is_done_as_well(tree, vera):
    record(tree, vera, findings=[SUCKER])
    later = NOW + timedelta(days=3)
    logged = record(tree, vera, findings=[DONE], now=later, seen_at=later)
    closure = acts().get().closures.get()
    assert closure.inspection == logged.inspection
    assert not acts().open().exists()


def test_a_look_that_comes_in_late_does_not_close_what_was_seen_after_it(tree, vera):
    record(tree, vera, findings=[SUCKER])
    before = NOW - timedelta(days=3)
    logged = record(tree, vera, findings=[DONE], seen_at=before)
    # The task counts from the earlier look now; what was seen after it is what stands.
    assert acts().get().finding.inspection.seen_at == NOW
    assert acts().open().exists()
    assert len(logged.nothing_to_do) == 1


def test_it_is_told_where_nothing_was_to_be_done(tree, vera):
    open_answer = SeenSign("sucker", {}, done=True)
    logged = record(tree, vera, findings=[open_answer])
    [finding] = logged.findings
    assert finding.verdict == "watch"
    assert logged.nothing_to_do == (finding,)
    [told] = inspections.told_as_done(logged)
    assert told.endswith("you said the work is done; no open task asks for it.")
    assert not acts().exists()


def test_a_corrected_look_keeps_what_was_done_and_its_proof(tree, vera):
    seen = replace(DONE, pictures=(picture(),))
    first = record(tree, vera, findings=[seen]).inspection
    logged = inspections.correct(
        first, by=vera, now=NOW, reason="Two shoots", findings=[DONE], note="Two"
    )
    standing = Closure.objects.get(undone_at=None, how="done", task__kind="act")
    assert standing.inspection == logged.inspection
    assert standing.photos.count() == 1
    assert not acts().open().exists()


def test_a_look_corrected_to_not_done_leaves_the_work_open(tree, vera):
    first = record(tree, vera, findings=[DONE]).inspection
    inspections.correct(
        first, by=vera, now=NOW, reason="Not all of it", findings=[SUCKER]
    )
    assert acts().open().count() == 1


def test_a_withdrawn_look_takes_along_what_it_found_and_did(tree, vera):
    first = record(tree, vera, findings=[DONE]).inspection
    inspections.withdraw(first, by=vera, now=NOW, reason="Wrong tree")
    assert not Task.objects.open().exists()
    assert not Closure.objects.filter(undone_at=None, how="done").exists()


def test_a_second_opinion_on_one_sign_leaves_what_was_done_on_the_other(
    tree, vera, lee
):
    unsure = SeenSign("leafminer", sure=False)
    logged = record(tree, vera, findings=[DONE, unsure])
    look = SecondLook.objects.get(finding=logged.findings[1])
    inspections.answer_second_look(look, by=lee, now=NOW, answer="nothing")
    standing = Closure.objects.get(undone_at=None, how="done", task__key="sucker")
    assert standing.inspection == Inspection.objects.current().get()
    assert not acts().open().exists()


def test_a_task_of_another_tree_cannot_be_ticked(orchard, tree, vera):
    other = make_tree(orchard, "A-2")
    record(other, vera, findings=[SUCKER])
    number = Task.objects.get(kind="act", key="sucker").pk
    with refused("no_such_task"):
        record(tree, vera, note="x", done_tasks=[number])
    assert Inspection.objects.filter(tree=tree).count() == 0


def test_all_well_is_the_look_that_was_waited_for(tree, vera):
    record(tree, vera, findings=[SUCKER])
    look = Task.objects.get(kind="look", key="sucker")
    later = NOW + timedelta(days=40)
    record(tree, vera, all_well=True, now=later, seen_at=later)
    look.refresh_from_db()
    assert look.closed_at == later


def test_the_same_sign_again_continues_and_opens_no_second_task(tree, vera):
    first = record(tree, vera, findings=[SUCKER]).findings[0]
    later = NOW + timedelta(days=2)
    second = record(tree, vera, findings=[SUCKER], now=later, seen_at=later).findings[0]
    assert second.continues == first
    assert Task.objects.filter(kind="act", key="sucker").count() == 1


def test_two_worse_looks_in_a_row_raise_the_verdict(tree, vera):
    verdicts = []
    for week, share in enumerate((2, 4, 6)):
        at = NOW + timedelta(days=7 * week)
        seen = SeenSign("leafminer", {"pct": share})
        [finding] = record(tree, vera, findings=[seen], now=at, seen_at=at).findings
        verdicts.append((finding.verdict, finding.facts["trend"]))
    assert [trend for _v, trend in verdicts] == ["first", "worse", "worse"]
    assert verdicts[0][0] == verdicts[1][0] == "leave"
    assert verdicts[2][0] == "watch"


def test_photos_hang_on_what_they_show(tree, vera):
    seen = SeenSign("sucker", {"graft": "below"}, pictures=[picture("red")])
    logged = record(tree, vera, findings=[seen], pictures=[picture("blue")])
    shown = [list(photo.findings.all()) for photo in logged.inspection.photos.all()]
    assert sorted(shown, key=len) == [[], [logged.findings[0]]]


def test_no_photo_stays_when_the_record_is_refused_half_way(tree, vera, monkeypatch):
    def fails(*args, **kwargs):
        raise RuntimeError("the database is gone")

    monkeypatch.setattr(recording, "decide_on_finding", fails)
    seen = SeenSign("sucker", {"graft": "below"}, pictures=[picture()])
    with pytest.raises(RuntimeError):
        record(tree, vera, findings=[seen])
    assert not Inspection.objects.exists()
    assert not Photo.objects.exists()
    folders, _files = default_storage.listdir("")
    assert not [
        f
        for folder in folders
        for f in default_storage.listdir(folder)[0]
        for f in default_storage.listdir(f"{folder}/{f}")[1]
    ]


def test_a_photo_the_book_holds_already_is_told(orchard, tree, vera):
    other = make_tree(orchard, "A-2")
    record(other, vera, note="x", pictures=[picture()])
    logged = record(tree, vera, note="y", pictures=[picture()])
    assert [photo.tree for photo in logged.photos_elsewhere] == [other]
    assert Photo.objects.count() == 1


def test_a_suspected_regulated_pest_is_private_and_makes_a_case(
    orchard, tree, vera, lee
):
    seen = SeenSign("psyllid_nymph", {"count": 2}, pictures=[picture()])
    logged = record(tree, vera, findings=[seen], condition=4)
    [finding] = logged.findings
    assert finding.verdict == "report"
    assert finding.due_on == TODAY + timedelta(days=1)
    assert finding.private
    assert logged.inspection.has_private
    assert Case.objects.get().finding == finding
    assert Task.objects.get(kind="report", key="psyllid_nymph").private
    assert Photo.objects.get().private
    from tests.conftest import make_person

    victor = make_person("Victor", orchard, "volunteer")
    may_see = {
        person.name: permissions.sees(
            permissions.member_for(person, orchard.slug), finding
        )
        for person in (vera, lee, victor)
    }
    assert may_see == {"Vera": True, "Lee": True, "Victor": False}
    assert not Change.objects.filter(
        tree=tree, private=False, subject_label__contains="psyllid"
    ).exists()


def hush(tree) -> list[str]:
    """Everything that anybody may read about a tree's work and its ledger."""
    said = []
    for task in tree.tasks.not_private():
        said += [task.because, *task.closures.values_list("reason", flat=True)]
    for line in Change.objects.filter(tree=tree, private=False):
        said += [line.reason, str(line.before), str(line.after)]
    return said


SUSPECT = SeenSign("psyllid_nymph", {"count": 2})


def test_why_a_suspicion_was_corrected_away_is_told_to_no_one_else(tree, vera):
    tie = SeenSign("tie_girdle", {"yes": True})
    old = record(tree, vera, findings=[SUSPECT, tie])
    told = "No psyllid, only dust"
    change = {"by": vera, "now": NOW, "reason": told}
    inspections.correct(old.inspection, all_well=True, **change)
    assert Closure.objects.filter(task__kind="act", task__key="tie_girdle").get().reason
    assert not [said for said in hush(tree) if "psyllid" in said]
    report = Closure.objects.get(task__kind="look", task__key="psyllid_nymph")
    assert report.reason == told


def test_why_a_look_became_a_suspicion_is_told_to_no_one_else(tree, vera):
    old = record(tree, vera, findings=[SUCKER])
    change = {"by": vera, "now": NOW, "reason": "It was a psyllid"}
    inspections.correct(old.inspection, findings=[SUSPECT], **change)
    assert not [said for said in hush(tree) if "psyllid" in said]


def test_why_a_verdict_became_a_report_is_told_to_no_one_else(tree, vera, lee):
    [finding] = record(tree, vera, findings=[SUCKER]).findings
    inspections.override(
        finding, by=lee, now=NOW, verdict="report", reason="Looks like canker"
    )
    assert not [said for said in hush(tree) if "canker" in said]


def test_why_a_suspicion_was_taken_back_is_told_to_no_one_else(tree, vera):
    old = record(tree, vera, findings=[SUSPECT, SUCKER])
    inspections.withdraw(old.inspection, by=vera, now=NOW, reason="No psyllid")
    assert not [said for said in hush(tree) if "psyllid" in said]


# Corrections


def test_a_correction_is_a_new_version_and_its_work_follows(tree, vera):
    old = record(tree, vera, findings=[SUCKER], condition=2)
    new = inspections.correct(
        old.inspection,
        by=vera,
        now=NOW + timedelta(hours=1),
        reason="It was above the graft",
        findings=[SeenSign("sucker", {"graft": "above", "leaf3": False})],
        condition=4,
    )
    old.inspection.refresh_from_db()
    assert not old.inspection.is_current
    assert old.inspection.findings.get().verdict == "act"
    assert new.inspection.corrects == old.inspection
    assert new.findings[0].verdict == "leave"
    assert not Task.objects.open().filter(kind="act", key="sucker").exists()
    tree.refresh_from_db()
    assert tree.condition == 4
    line = Change.objects.get(verb="correct")
    assert line.reason == "It was above the graft"
    assert line.before["findings"][0]["verdict"] == "act"


def test_photos_stay_with_the_newest_version(tree, vera):
    seen = SeenSign("sucker", {"graft": "below"}, pictures=[picture()])
    old = record(tree, vera, findings=[seen])
    new = inspections.correct(
        old.inspection,
        by=vera,
        now=NOW,
        reason="Two shoots",
        findings=[SeenSign("sucker", {"graft": "below", "woody": True})],
    )
    assert Photo.objects.get().findings.get() == new.findings[0]


def test_a_correction_needs_a_reason_and_the_newest_version(tree, vera):
    old = record(tree, vera, condition=2).inspection
    with refused("reason_missing"):
        inspections.correct(old, by=vera, now=NOW, reason=" ", condition=3)
    inspections.correct(old, by=vera, now=NOW, reason="Typed wrong", condition=3)
    with refused("not_current"):
        inspections.correct(old, by=vera, now=NOW, reason="Again", condition=4)
    assert Inspection.objects.current().get().condition == 3


def test_anothers_record_is_corrected_by_those_who_lead(orchard, tree, vera, lee, otto):
    from tests.conftest import make_person

    mine = record(tree, vera, condition=2).inspection
    victor = make_person("Victor", orchard, "volunteer")
    with refused("not_yours"):
        inspections.correct(mine, by=victor, now=NOW, reason="No", condition=3)
    with pytest.raises(NotThere):
        inspections.correct(mine, by=otto, now=NOW, reason="No", condition=3)
    assert inspections.correct(mine, by=lee, now=NOW, reason="Yes", condition=3)


def test_a_withdrawn_look_takes_its_work_and_its_ticks_with_it(tree, vera):
    record(tree, vera, findings=[SUCKER])
    task = Task.objects.get(kind="act", key="sucker")
    second = record(tree, vera, condition=3, done_tasks=[task.pk])
    with refused("reason_missing"):
        inspections.withdraw(second.inspection, by=vera, now=NOW, reason="")
    inspections.withdraw(second.inspection, by=vera, now=NOW, reason="Wrong tree")
    task.refresh_from_db()
    assert task.closed_at is None
    tree.refresh_from_db()
    assert tree.condition is None
    assert tree.last_seen_on == TODAY
    first = Inspection.objects.current().get()
    inspections.withdraw(first, by=vera, now=NOW, reason="Wrong tree too")
    tree.refresh_from_db()
    assert tree.last_seen_on is None
    assert not Task.objects.open().exists()


def test_an_override_stands_beside_the_computed_verdict(tree, vera, lee):
    [finding] = record(tree, vera, findings=[SUCKER]).findings
    with refused("not_yours"):
        inspections.override(finding, by=vera, now=NOW, verdict="leave", reason="x")
    with refused("reason_missing"):
        inspections.override(finding, by=lee, now=NOW, verdict="leave", reason=" ")
    with refused("no_other_verdict"):
        inspections.override(finding, by=lee, now=NOW, verdict="act", reason="x")
    said = inspections.override(
        finding, by=lee, now=NOW, verdict="leave", reason="Kept for a lesson"
    )
    assert (said.verdict, said.override) == ("act", "leave")
    assert said.override_by == lee
    assert not Task.objects.open().filter(kind="act", key="sucker").exists()


def test_an_override_to_report_opens_a_case_and_cannot_be_talked_down(tree, vera, lee):
    [finding] = record(tree, vera, findings=[SUCKER]).findings
    inspections.override(finding, by=lee, now=NOW, verdict="report", reason="Odd")
    finding.refresh_from_db()
    assert finding.private
    assert Case.objects.get().finding == finding
    with refused("report_must_stay"):
        inspections.override(finding, by=lee, now=NOW, verdict="leave", reason="x")


def test_the_number_of_queries_does_not_grow_with_the_history(tree, vera):
    def queries():
        with CaptureQueriesContext(
            connection,
        ) as caught:
            ground = facts.gather(tree, on=TODAY)
            for sign in guide.load().signs.values():
                if sign.fits("citrus"):
                    inspections.outcomes(ground, sign)
        return len(caught)

    before = queries()
    for hour in range(12):
        at = NOW - timedelta(hours=hour)
        record(
            tree, vera, seen_at=at, findings=[SUCKER, SeenSign("aphids", {"pct": 5})]
        )
    assert queries() == before <= 10
