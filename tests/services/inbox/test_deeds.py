"""Deeds done without signal come in once, and whoever comes too late is told."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from orchard.records.models import (
    Change,
    Closure,
    DryCheck,
    Happening,
    HoldBreach,
    Inspection,
    Membership,
    Photo,
    PracticeAnswer,
    Product,
    Receipt,
    RipenessTest,
    SecondLook,
    StageNote,
    Task,
    Treatment,
    Watering,
    WetSpell,
)
from orchard.science.words import PracticeLevel
from orchard.services import inspections, practice, tasks, treatments
from orchard.services.inbox import Answer, Entry, EntryKind
from orchard.services.inspections import SeenSign
from orchard.services.permissions import member_for
from orchard.services.treatments import Use
from orchard.web.pages.inbox.views import PAGES, receive
from tests.conftest import make_person
from tests.services.photos.test_photos import file as a_photo
from tests.services.tasks.test_tasks import make_task
from tests.services.treatments.helpers import add, allow, use

LISBON = ZoneInfo("Europe/Lisbon")


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


@pytest.fixture
def task(tree, today) -> Task:
    return make_task(tree)


def an_entry(kind, by, now, *form, **fields) -> Entry:
    values = {
        "key": uuid.uuid4(),
        "kind": kind,
        "orchard": "alderbrook",
        "person": by.pk,
        "made_at": now - timedelta(minutes=30),
        "sent_at": now,
        "body_hash": "a" * 64,
        "form": tuple(form),
    }
    return Entry(**{**values, **fields})


def done(task, by, now, today, *form, **fields) -> Entry:
    day = ("done-done_on", today.isoformat())
    said = (("how", "done"), ("units", "metric"), day, *form)
    return an_entry(EntryKind.CLOSURE, by, now, *said, task=task.pk, **fields)


def send(entry, by, now):
    outcome, _deed = receive(entry, by, now)
    return outcome


def test_work_done_is_closed_once(task, vera, now, today):
    entry = done(task, vera, now, today, ("done-evidence", "all of it"))
    first, second = send(entry, vera, now), send(entry, vera, now)
    assert (first.answer, second.answer) == (Answer.KEPT, Answer.ALREADY)
    closure = Closure.objects.get()
    assert (closure.by, closure.how, closure.evidence) == (vera, "done", "all of it")
    assert Receipt.objects.get().kind == "closure"
    assert first.subject_id == second.subject_id == task.pk


def test_work_is_skipped_with_its_reason(task, vera, now):
    form = (("how", "skipped"), ("skip-reason", "too wet"))
    entry = an_entry(EntryKind.CLOSURE, vera, now, *form, task=task.pk)
    assert send(entry, vera, now).answer is Answer.KEPT
    closure = Closure.objects.get()
    assert (closure.how, closure.reason) == ("skipped", "too wet")


def test_a_skip_without_a_reason_is_refused_in_the_words_of_its_form(task, vera, now):
    form = (("how", "skipped"), ("skip-reason", " "))
    entry = an_entry(EntryKind.CLOSURE, vera, now, *form, task=task.pk)
    outcome = send(entry, vera, now)
    assert outcome.answer is Answer.REFUSED
    assert "why it is skipped" in outcome.reason
    assert not Closure.objects.exists()
    assert not Receipt.objects.exists()


def test_work_closed_meanwhile_is_answered_with_who_closed_it(
    task, vera, lee, now, today
):
    tasks.close(task, by=lee, now=now, today=today)
    entry = done(task, vera, now, today, ("done-evidence", "twelve cut"))
    outcome = send(entry, vera, now)
    assert outcome.answer is Answer.KEPT
    assert "Lee has done this already" in outcome.notices[0]
    assert "kept in the ledger" in outcome.notices[0]
    assert Closure.objects.get().by == lee
    line = Change.objects.get(verb="note", subject_type="task")
    assert line.by == vera
    assert line.after["evidence"] == "twelve cut"
    # The phone may ask again because the answer was lost: it reads the same.
    again = send(entry, vera, now)
    assert (again.answer, again.notices) == (Answer.ALREADY, outcome.notices)
    assert Change.objects.filter(verb="note", subject_type="task").count() == 1


def test_a_photo_of_work_goes_with_its_closing(task, vera, now, today):
    work = done(task, vera, now, today)
    photo = an_entry(
        EntryKind.PHOTO, vera, now, parent=work.key, file=a_photo(), body_hash="b" * 64
    )
    assert send(photo, vera, now).answer is Answer.WAIT
    send(work, vera, now)
    assert send(photo, vera, now).answer is Answer.KEPT
    closure = Closure.objects.get()
    assert list(closure.photos.all()) == [Photo.objects.get()]
    assert list(Photo.objects.get().trees.all()) == [task.tree]


def test_a_photo_of_work_that_another_closed_stays_with_the_tree(
    task, vera, lee, now, today
):
    tasks.close(task, by=lee, now=now, today=today)
    work = done(task, vera, now, today)
    send(work, vera, now)
    photo = an_entry(EntryKind.PHOTO, vera, now, parent=work.key, file=a_photo())
    assert send(photo, vera, now).answer is Answer.KEPT
    assert not Closure.objects.get().photos.exists()
    assert list(Photo.objects.get().trees.all()) == [task.tree]


def test_a_task_is_taken_and_given_back(task, vera, now):
    entry = an_entry(EntryKind.TAKING, vera, now, task=task.pk)
    assert send(entry, vera, now).answer is Answer.KEPT
    task.refresh_from_db()
    assert task.taken_by == vera
    back = an_entry(EntryKind.TAKING, vera, now, ("give", "back"), task=task.pk)
    assert send(back, vera, now).answer is Answer.KEPT
    task.refresh_from_db()
    assert task.taken_by is None


def test_whoever_takes_too_late_is_told_who_has_it(task, vera, lee, now):
    tasks.take_task(task, by=lee, now=now)
    outcome = send(an_entry(EntryKind.TAKING, vera, now, task=task.pk), vera, now)
    assert outcome.answer is Answer.KEPT
    assert "Lee has this already" in outcome.notices[0]
    task.refresh_from_db()
    assert task.taken_by == lee


def test_work_of_another_orchard_is_not_there(task, vera, now, today, southbank):
    member = Membership.objects.get(user=vera)
    Membership.objects.create(
        user=vera, orchard=southbank, role=member.role, joined_at=now
    )
    entry = done(task, vera, now, today, orchard=southbank.slug)
    outcome = send(entry, vera, now)
    assert outcome.answer is Answer.REFUSED
    assert "isn't here" in outcome.reason
    assert not Closure.objects.exists()


def test_private_work_is_not_there_for_a_volunteer(task, vera, now, today):
    Task.objects.filter(pk=task.pk).update(private=True)
    assert send(done(task, vera, now, today), vera, now).answer is Answer.REFUSED
    assert not Closure.objects.exists()


def test_who_only_reads_closes_nothing(task, olga, now, today):
    outcome = send(done(task, olga, now, today), olga, now)
    assert outcome.answer is Answer.REFUSED
    assert "This is for" in outcome.reason
    assert not Closure.objects.exists()


def test_an_event_and_a_stage_are_noted_on_their_tree(tree, vera, now, today):
    day = today.isoformat()
    event = an_entry(
        EntryKind.EVENT,
        vera,
        now,
        ("what", "other"),
        ("happened_on", day),
        ("note", "A branch came down"),
        tree=tree.code,
    )
    stage = an_entry(
        EntryKind.STAGE, vera, now, ("bbch", "65"), ("seen_on", day), ("whose", "tree"),
        tree=tree.code,
    )  # fmt: skip
    for entry in (event, stage):
        outcome = send(entry, vera, now)
        assert outcome.answer is Answer.KEPT, outcome.reason
        assert send(entry, vera, now).answer is Answer.ALREADY
    happening = Happening.objects.get()
    assert (happening.tree, happening.note) == (tree, "A branch came down")
    assert (StageNote.objects.get().tree, StageNote.objects.get().bbch) == (tree, 65)


def test_an_event_of_no_tree_is_of_the_whole_orchard(orchard, vera, now, today):
    form = (("what", "hard_frost"), ("happened_on", today.isoformat()))
    assert send(an_entry(EntryKind.EVENT, vera, now, *form), vera, now).answer is (
        Answer.KEPT
    )
    assert Happening.objects.get().tree is None


def test_an_event_on_a_tree_that_is_not_here_is_refused(orchard, vera, now, today):
    form = (("what", "hard_frost"), ("happened_on", today.isoformat()))
    outcome = send(an_entry(EntryKind.EVENT, vera, now, *form, tree="Z-9"), vera, now)
    assert outcome.answer is Answer.REFUSED
    assert "no tree Z-9 here" in outcome.reason


def test_a_day_to_come_is_refused_in_the_words_of_the_page(tree, vera, now, today):
    day = (today + timedelta(days=2)).isoformat()
    form = (("bbch", "65"), ("seen_on", day))
    outcome = send(
        an_entry(EntryKind.STAGE, vera, now, *form, tree=tree.code), vera, now
    )
    assert outcome.answer is Answer.REFUSED
    assert not StageNote.objects.exists()
    assert not Receipt.objects.exists()


def test_a_day_that_the_form_took_from_a_wrong_clock_is_mended(
    task, tree, vera, now, today
):
    ahead = timedelta(days=400)
    made = {"made_at": now + ahead, "sent_at": now}
    wrong = (now + ahead).date()
    assert send(done(task, vera, now, wrong, **made), vera, now).answer is Answer.KEPT
    assert Closure.objects.get().done_on == today
    form = (("what", "bark_bared"), ("happened_on", wrong.isoformat()))
    # A clock that is wrong still.
    made = {"made_at": now + ahead, "sent_at": now + ahead}
    event = an_entry(EntryKind.EVENT, vera, now, *form, tree="A-1", **made)
    assert send(event, vera, now).answer is Answer.KEPT
    assert Happening.objects.get().happened_on == today


def test_a_watering_comes_in_once(tree, vera, now, today):
    entry = an_entry(
        EntryKind.WATERING,
        vera,
        now,
        ("tree", tree.code),
        ("litres", "40"),
        ("given_on", today.isoformat()),
        ("units", "metric"),
    )
    assert send(entry, vera, now).answer is Answer.KEPT
    assert send(entry, vera, now).answer is Answer.ALREADY
    watering = Watering.objects.get()
    assert (watering.tree, watering.litres, watering.by) == (tree, 40, vera)


def test_figures_in_other_units_than_the_orchards_are_not_guessed(
    tree, vera, now, today
):
    entry = an_entry(
        EntryKind.WATERING,
        vera,
        now,
        ("tree", tree.code),
        ("litres", "40"),
        ("given_on", today.isoformat()),
        ("units", "us"),
    )
    outcome = send(entry, vera, now)
    assert outcome.answer is Answer.REFUSED
    assert "other units" in outcome.reason
    assert not Watering.objects.exists()


def test_a_test_of_fruit_comes_in_once(tree, vera, now, today):
    entry = an_entry(
        EntryKind.RIPENESS_TEST,
        vera,
        now,
        ("tree", tree.code),
        ("tested_on", today.isoformat()),
        ("fruits", "5"),
        ("units", "metric"),
        ("brix_read", "11"),
    )
    outcome = send(entry, vera, now)
    assert outcome.answer is Answer.KEPT, outcome.reason
    assert send(entry, vera, now).answer is Answer.ALREADY
    assert RipenessTest.objects.get().brix_read == 11


def test_a_clean_look_is_taken_back_once(tree, vera, now):
    look = an_entry(EntryKind.INSPECTION, vera, now, ("all_well", "1"), tree=tree.code)
    send(look, vera, now)
    undo = an_entry(EntryKind.WITHDRAWAL, vera, now, parent=look.key)
    assert send(undo, vera, now).answer is Answer.KEPT
    assert send(undo, vera, now).answer is Answer.ALREADY
    inspection = Inspection.objects.get()
    assert (inspection.withdrawn_by, inspection.withdrawn_at) == (vera, now)
    again = an_entry(EntryKind.WITHDRAWAL, vera, now, parent=look.key)
    assert send(again, vera, now).notices


def test_nobody_takes_back_the_look_of_another(tree, vera, now):
    look = an_entry(EntryKind.INSPECTION, vera, now, ("all_well", "1"), tree=tree.code)
    send(look, vera, now)
    wim = make_person("Wim", tree.orchard, "volunteer")
    undo = an_entry(EntryKind.WITHDRAWAL, wim, now, parent=look.key)
    assert send(undo, wim, now).answer is Answer.REFUSED
    assert Inspection.objects.get().withdrawn_at is None


def test_a_look_that_found_something_is_not_taken_back_at_once(tree, vera, now):
    look = an_entry(EntryKind.INSPECTION, vera, now, ("note", "A nest"), tree=tree.code)
    send(look, vera, now)
    undo = an_entry(EntryKind.WITHDRAWAL, vera, now, parent=look.key)
    outcome = send(undo, vera, now)
    assert outcome.answer is Answer.REFUSED
    assert "all well" in outcome.reason
    assert Inspection.objects.get().withdrawn_at is None


@pytest.fixture
def look(tree, vera, now) -> SecondLook:
    findings = [SeenSign("sucker", {"graft": "below", "woody": False}, sure=False)]
    inspections.record(
        tree, by=vera, now=now, seen_at=now, findings=findings, condition=3
    )
    return SecondLook.objects.get()


def an_answer(look, by, now, *form) -> Entry:
    return an_entry(EntryKind.SECOND_LOOK, by, now, *form, look=look.pk)


def test_a_second_look_is_answered_once(look, lee, now):
    entry = an_answer(look, lee, now, ("answer", "agreed"), ("note", "Three leaflets"))
    assert send(entry, lee, now).answer is Answer.KEPT
    assert send(entry, lee, now).answer is Answer.ALREADY
    look.refresh_from_db()
    assert (look.answered_by, look.answer) == (lee, "agreed")
    assert look.note == "Three leaflets"


def test_another_sign_comes_with_what_is_asked_of_it(look, lee, now):
    other = (("answer", "other"), ("sign", "water_sprout"))
    unread = (*other, ("water_sprout:count", "many"))
    outcome = send(an_answer(look, lee, now, *unread), lee, now)
    assert outcome.answer is Answer.REFUSED
    look.refresh_from_db()
    assert look.answered_at is None
    given = (*other, ("water_sprout:count", "3"))
    outcome = send(an_answer(look, lee, now, *given), lee, now)
    assert outcome.answer is Answer.KEPT, outcome.reason
    standing = Inspection.objects.current().get()
    finding = standing.findings.get()
    assert (finding.sign, finding.answers["count"]) == ("water_sprout", 3)


def test_an_answer_that_comes_too_late_is_kept_in_the_ledger(look, lee, now):
    cora = make_person("Cora", look.orchard, "coordinator")
    inspections.answer_second_look(look, by=cora, now=now, answer="agreed")
    late = an_answer(look, lee, now, ("answer", "nothing"), ("note", "Only a shadow"))
    outcome = send(late, lee, now)
    assert outcome.answer is Answer.KEPT
    assert "Cora has answered this second look already" in outcome.notices[0]
    assert Change.objects.get(verb="note").after["note"] == "Only a shadow"
    look.refresh_from_db()
    assert look.answer == "agreed"


def test_a_late_answer_that_names_another_sign_stays_among_those_who_lead(
    look, lee, now
):
    cora = make_person("Cora", look.orchard, "coordinator")
    inspections.answer_second_look(look, by=cora, now=now, answer="agreed")
    given = (("answer", "other"), ("sign", "water_sprout"), ("water_sprout:count", "3"))
    assert send(an_answer(look, lee, now, *given), lee, now).answer is Answer.KEPT
    assert Change.objects.get(verb="note").private


def test_a_volunteer_answers_no_second_look(look, tree, now):
    wim = make_person("Wim", tree.orchard, "volunteer")
    outcome = send(an_answer(look, wim, now, ("answer", "agreed")), wim, now)
    assert outcome.answer is Answer.REFUSED
    assert "This is for" in outcome.reason
    look.refresh_from_db()
    assert look.answered_at is None


def treatment(by, now, *form, **fields) -> Entry:
    said = (
        ("units", "metric"), ("kind", "trunk_paint"), ("trees", "A-1"),
        ("ended_at", "2026-05-12T09:30"), ("product-TOTAL_FORMS", "3"),
        ("product-INITIAL_FORMS", "0"), *form,
    )  # fmt: skip
    return an_entry(EntryKind.TREATMENT, by, now, *said, **fields)


def test_a_treatment_comes_in_once(tree, vera, now, settings):
    entry = treatment(vera, now, ("height_cm", "60"), ("details", ""))
    first, second = send(entry, vera, now), send(entry, vera, now)
    assert (first.answer, second.answer) == (Answer.KEPT, Answer.ALREADY)
    row = Treatment.objects.get()
    assert (row.kind, row.by, row.details) == ("trunk_paint", vera, {"height_cm": 60.0})
    assert row.ended_at == now - timedelta(minutes=30)
    assert [each.tree for each in row.reached.all()] == [tree]


def test_a_photo_goes_with_the_record_that_stands_of_its_treatment(tree, vera, now):
    entry = treatment(vera, now)
    photo = an_entry(
        EntryKind.PHOTO, vera, now, parent=entry.key, file=a_photo(), body_hash="b" * 64
    )
    assert send(photo, vera, now).answer is Answer.WAIT
    send(entry, vera, now)
    row = Treatment.objects.get()
    newer = treatments.correct(
        row,
        Use(row.kind, row.ended_at, trees=(tree,), fields={"note": "Both sides"}),
        by=vera,
        now=now,
        today=now.date(),
        reason="The note",
    ).treatment
    assert send(photo, vera, now).answer is Answer.KEPT
    assert [newer] == list(Photo.objects.get().treatments.all())
    assert Photo.objects.get().tree == tree


def test_a_treatment_closes_the_task_it_was_recorded_from(tree, vera, now):
    task = make_task(tree, key="whitewash")
    entry = treatment(vera, now, ("of_task", str(task.pk)))
    assert send(entry, vera, now).answer is Answer.KEPT
    task.refresh_from_db()
    assert task.closed_at == now


@pytest.mark.parametrize(
    "form",
    [
        (("kind", "moonlight"),), (("trees", "Z-9"),), (("of_task", "9" * 18),),
        (("product-TOTAL_FORMS", "x"),), (("size", "1e400"),), (("units", "us"),),
        (("of_plan", "77"),), (("product-0-dose", "3"),),
    ],
)  # fmt: skip
def test_a_treatment_that_cannot_be_is_refused_in_words(tree, vera, now, form):
    [[name, value]] = form
    entry = treatment(vera, now, (name, value))
    kept = tuple(pair for pair in entry.form if pair[0] != name or pair[1] == value)
    outcome = send(replace(entry, form=kept), vera, now)
    assert outcome.answer is Answer.REFUSED
    assert outcome.reason
    assert not Treatment.objects.exists()


def test_work_where_nobody_may_enter_is_refused_or_kept_as_a_breach(
    tree, task, vera, lee, now, today
):
    allow(tree.orchard)
    soap = add(tree.orchard, lee, now)
    sprayed = use(soap, tree, at=now - timedelta(hours=1))
    treatments.record(tree.orchard, sprayed, by=lee, now=now, today=today)
    refused = send(done(task, vera, now, today), vera, now)
    assert refused.answer is Answer.REFUSED
    assert "No entry before Tue 12 May, 13:00" in refused.reason
    words = ("done-despite_hold", "I did not see the sign")
    assert send(done(task, vera, now, today, words), vera, now).answer is Answer.KEPT
    breach = HoldBreach.objects.get()
    assert (breach.tree, breach.by, breach.closure.task) == (tree, vera, task)
    assert breach.words == "I did not see the sign"
    asked = Task.objects.open().get(kind="once", tree=None)
    assert "A-1 while it was closed" in asked.title
    # After the label's hours it is work like any other.
    later = now + timedelta(hours=3)
    second = make_task(tree, key="mulch")
    assert send(done(second, vera, later, today), vera, later).answer is Answer.KEPT
    assert HoldBreach.objects.count() == 1


def test_a_leaf_found_dry_without_signal_opens_what_was_corrected_meanwhile(
    orchard, tree, vera, lee, now
):
    soap = add(allow(orchard), lee, now, entry_rule="until_dry", entry_hours=None)
    ended = now - timedelta(hours=6)
    row = treatments.record(
        orchard, use(soap, tree, at=ended), by=lee, now=now, today=now.date()
    ).treatment
    newer = treatments.correct(
        row,
        use(soap, tree, at=ended + timedelta(minutes=30)),
        by=lee,
        now=now,
        today=now.date(),
        reason="It ended later",
    ).treatment
    dry_at = (now - timedelta(hours=1)).astimezone(LISBON).strftime("%Y-%m-%dT%H:%M")
    form = (("dry_at", dry_at), ("qualified", "L-7"))
    by_vera = an_entry(EntryKind.DRY_CHECK, vera, now, *form, treatment=row.pk)
    refused = send(by_vera, vera, now)
    entry = an_entry(EntryKind.DRY_CHECK, lee, now, *form, treatment=row.pk)
    first, second = send(entry, lee, now), send(entry, lee, now)
    early = (("dry_at", "2026-05-12T01:00"), ("qualified", "L-7"))
    before = an_entry(EntryKind.DRY_CHECK, lee, now, *early, treatment=row.pk)
    too_early = send(before, lee, now)
    assert refused.answer is Answer.REFUSED
    assert (first.answer, second.answer) == (Answer.KEPT, Answer.ALREADY)
    assert first.subject_id == newer.pk
    check = DryCheck.objects.get()
    assert (check.treatment, check.by, check.qualified) == (newer, lee, "L-7")
    assert newer.reached.get().entry_at == now - timedelta(hours=1)
    assert "ended later than that" in too_early.reason


def test_a_label_read_at_the_shelf_comes_in_with_its_photo(orchard, lee, now):
    form = (("kind", "soap"), ("name", "Leaf soap"), ("entry_rule", "unknown"))
    checked = ("checked_on", now.date().isoformat())
    entry = an_entry(EntryKind.PRODUCT, lee, now, *form, checked)
    photo = an_entry(
        EntryKind.PHOTO, lee, now, parent=entry.key, file=a_photo(), body_hash="b" * 64
    )
    assert send(photo, lee, now).answer is Answer.WAIT
    assert send(entry, lee, now).answer is Answer.KEPT
    assert send(photo, lee, now).answer is Answer.KEPT
    row = Product.objects.get()
    assert list(row.photos.all()) == [Photo.objects.get()]
    again = send(replace(entry, key=uuid.uuid4()), lee, now)
    assert again.answer is Answer.REFUSED
    assert "is here already" in again.reason


def test_a_wet_spell_comes_in(tree, vera, now):
    form = (
        ("cause", "rain"), ("began_at", "2026-05-12T07:00"),
        ("ended_at", "2026-05-12T08:00"),
    )  # fmt: skip
    outcome = send(an_entry(EntryKind.WET_SPELL, vera, now, *form), vera, now)
    assert outcome.answer is Answer.KEPT
    assert WetSpell.objects.get().by == vera


def practised(by, now, sign="sucker", taken_for="sucker", **fields) -> Entry:
    form = (("sign", sign), ("taken_for", taken_for), ("level", "drawing"))
    return an_entry(EntryKind.PRACTICE, by, now, *form, **fields)


def test_an_answer_given_without_signal_counts_once_as_of_when_it_was_given(
    tree, vera, lee, now
):
    begun = now - timedelta(days=2)
    entry = practised(vera, now, made_at=begun)
    assert send(entry, vera, now).answer is Answer.KEPT
    assert send(entry, vera, now).answer is Answer.ALREADY
    row = PracticeAnswer.objects.get()
    assert (row.by, row.key, row.is_right) == (vera, entry.key, True)
    assert (row.level, row.answered_at) == (PracticeLevel.DRAWING, begun)
    on = now.astimezone(LISBON).date()
    mine = practice.progress_of(member_for(vera, "alderbrook"), today=on)
    # In the second box, asked again after two days: that is now.
    assert (mine.boxes[:2], mine.due) == ((0, 1), 1)
    theirs = practice.progress_of(member_for(lee, "alderbrook"), today=on)
    assert theirs.met == 0


def test_answers_that_come_in_late_are_played_in_the_order_they_were_given(
    tree, vera, now
):
    missed = practised(
        vera, now, taken_for="water_sprout", made_at=now - timedelta(days=3)
    )
    right = practised(vera, now, made_at=now - timedelta(days=2))
    for entry in (right, missed):
        assert send(entry, vera, now).answer is Answer.KEPT
    mine = practice.progress_of(
        member_for(vera, "alderbrook"), today=now.astimezone(LISBON).date()
    )
    assert mine.boxes[:2] == (0, 1)


def test_of_an_answer_nobody_else_reads_and_nothing_is_said(tree, vera, now):
    lines = Change.objects.count()
    outcome, deed = receive(practised(vera, now), vera, now)
    assert (outcome.answer, outcome.notices, deed.text) == (Answer.KEPT, (), "")
    assert Change.objects.count() == lines


def test_an_answer_about_a_sign_that_the_guide_has_not_is_refused(tree, vera, now):
    for entry in (practised(vera, now, sign="no_such"), practised(vera, now, sign="")):
        assert send(entry, vera, now).answer is Answer.REFUSED
    assert not PracticeAnswer.objects.exists()


def test_every_kind_of_entry_leads_to_a_page():
    kinds = set(EntryKind) - {EntryKind.PHOTO}
    assert set(PAGES) == kinds
