"""What phones send comes in once, with its receipt, or stays on the phone."""

from __future__ import annotations

import uuid
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from io import BytesIO

import pillow_heif
import pytest
from django.core.files.storage import default_storage
from django.db import IntegrityError, OperationalError, transaction

from orchard.records.models import (
    Closure,
    Inspection,
    Membership,
    Photo,
    Receipt,
    Tree,
)
from orchard.services import inspections, photos, trees
from orchard.services.inbox import Answer, Entry, EntryKind, receiving
from orchard.services.photos import keeping
from orchard.web.pages.inbox.views import receive
from tests.conftest import NOW, make_tree
from tests.services.photos.test_photos import EXIF, TAKEN_AT, camera_exif, heic, image
from tests.services.photos.test_photos import file as a_photo


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


def an_entry(by, now, *, form=(("all_well", "1"),), **fields) -> Entry:
    values = {
        "key": uuid.uuid4(),
        "kind": EntryKind.INSPECTION,
        "orchard": "alderbrook",
        "person": by.pk,
        "made_at": now - timedelta(minutes=30),
        "sent_at": now,
        "body_hash": "a" * 64,
        "tree": "A-1",
        "form": tuple(form),
    }
    return Entry(**{**values, **fields})


def send(entry, by, now):
    outcome, _deed = receive(entry, by, now)
    return outcome


def test_an_entry_is_kept_once_with_its_receipt(tree, vera, now):
    entry = an_entry(vera, now)
    first, second = send(entry, vera, now), send(entry, vera, now)
    assert (first.answer, second.answer) == (Answer.KEPT, Answer.ALREADY)
    assert first.subject_id == second.subject_id
    assert Inspection.objects.get().seen_at == entry.made_at
    assert Receipt.objects.get().key == entry.key


def test_a_clean_look_asks_the_book_eight_times(
    tree, vera, now, django_assert_num_queries
):
    entry = an_entry(vera, now)
    # Member, tree; lock, work, look, tree, ledger, receipt: in a savepoint,
    # as the test has a transaction of its own.
    with django_assert_num_queries(8 + 2):
        assert send(entry, vera, now).answer == Answer.KEPT


def test_a_look_that_came_by_its_page_gets_the_receipt_of_its_entry(tree, vera, now):
    entry = an_entry(vera, now)
    page = inspections.record(
        tree, by=vera, now=now, seen_at=now, all_well=True, key=entry.key
    )
    outcome = send(entry, vera, now)
    assert (outcome.answer, outcome.subject_id) == (Answer.KEPT, page.inspection.pk)
    assert Inspection.objects.count() == Receipt.objects.filter(key=entry.key).count()


def test_a_change_that_came_too_late_leads_to_what_was_saved(tree, vera, now):
    entry = an_entry(vera, now)
    first = send(entry, vera, now)
    other = an_entry(vera, now, key=entry.key, body_hash="b" * 64)
    answer = send(other, vera, now)
    assert answer.answer is Answer.REFUSED
    assert answer.reason == "It was saved as it was before. Correct what was saved."
    assert (answer.kind, answer.subject_id) == (first.kind, first.subject_id)
    assert Inspection.objects.count() == 1


def test_another_kind_of_entry_under_the_same_key_is_refused(tree, vera, now):
    entry = an_entry(vera, now)
    send(entry, vera, now)
    other = an_entry(vera, now, key=entry.key, kind=EntryKind.EVENT)
    answer = send(other, vera, now)
    assert answer.answer is Answer.REFUSED
    assert "under the same number" in answer.reason
    assert answer.subject_id is None


def test_nothing_is_sent_under_another_name(tree, vera, lee, now):
    answer = send(an_entry(vera, now), lee, now)
    assert answer.answer is Answer.WAIT
    assert not Inspection.objects.exists()


def test_receipt_and_effect_stand_or_fall_together(tree, vera, now, monkeypatch):
    def torn(*args, **kwargs):
        raise IntegrityError("power cut")

    monkeypatch.setattr(receiving, "_receipt", torn)
    with pytest.raises(IntegrityError):
        send(an_entry(vera, now), vera, now)
    assert not Inspection.objects.exists()
    assert not Receipt.objects.exists()


def test_a_refused_entry_may_be_mended_and_sent_under_its_key(tree, vera, now):
    wrong = an_entry(vera, now, tree="Z-9")
    answer = send(wrong, vera, now)
    assert answer.answer is Answer.REFUSED
    assert "Z-9" in answer.reason
    mended = an_entry(vera, now, key=wrong.key, body_hash="c" * 64)
    assert send(mended, vera, now).answer is Answer.KEPT


def test_a_phone_an_hour_slow_is_mended_and_keeps_what_it_said(tree, vera, now):
    hour = timedelta(hours=1)
    entry = an_entry(
        vera, now, made_at=now - hour - timedelta(minutes=20), sent_at=now - hour
    )
    send(entry, vera, now)
    kept = Inspection.objects.get()
    assert kept.seen_at == now - timedelta(minutes=20)
    assert kept.made_at == entry.made_at
    assert kept.offset_seconds == 3600


@pytest.mark.parametrize(
    "made_at",
    [NOW + timedelta(days=400), datetime(1970, 1, 1, 0, 3, tzinfo=UTC)],
)
def test_a_clock_put_right_between_look_and_sending_is_mended(tree, vera, now, made_at):
    outcome = send(an_entry(vera, now, made_at=made_at), vera, now)
    assert outcome.answer is Answer.KEPT
    kept = Inspection.objects.get()
    assert (kept.seen_at, kept.made_at) == (now, made_at)
    assert "clock was set right after this inspection" in outcome.notices[0]


def test_a_clock_that_is_still_wrong_is_mended_as_ever(tree, vera, now):
    ahead = timedelta(days=400)
    entry = an_entry(
        vera, now, made_at=now + ahead - timedelta(hours=3), sent_at=now + ahead
    )
    outcome = send(entry, vera, now)
    assert (outcome.answer, outcome.notices) == (Answer.KEPT, ())
    assert Inspection.objects.get().seen_at == now - timedelta(hours=3)


def test_a_day_that_somebody_gave_is_not_mended_but_asked_about(tree, vera, now):
    form = (("all_well", "1"), ("seen_day", "2027-06-01"))
    entry = an_entry(vera, now, form=form, made_at=now + timedelta(days=400))
    outcome = send(entry, vera, now)
    assert outcome.answer is Answer.REFUSED
    assert "in the future" in outcome.reason


@pytest.mark.parametrize("year", ["0001", "0000", "9999", "3020"])
def test_a_camera_of_another_age_costs_its_photo_nothing(tree, vera, now, year):
    exif = camera_exif()
    exif.get_ifd(EXIF)[TAKEN_AT] = f"{year}:12:31 23:59:59"
    out = BytesIO()
    held = pillow_heif.from_pillow(image())
    held.save(out, quality=80, exif=exif.tobytes())
    out.seek(0)
    for content in (out, a_photo(exif=exif)):
        photo = sent_photo(vera, now, file=content)
        assert send(photo, vera, now).answer is Answer.KEPT
    assert [row.taken_at for row in Photo.objects.all()] == [None, None]


@pytest.mark.parametrize("code", ["\uff21\uff0d\uff11", "\u0410-1", "a\u20131"])
def test_a_code_in_other_letters_names_the_same_tree(tree, vera, now, code):
    assert send(an_entry(vera, now, tree=code), vera, now).answer is Answer.KEPT
    assert Inspection.objects.get().tree == tree


def test_who_left_the_orchard_is_told_how_to_hand_the_entry_over(tree, vera, now):
    Membership.objects.filter(user=vera).update(left_at=now)
    answer = send(an_entry(vera, now), vera, now)
    assert answer.answer is Answer.REFUSED
    assert "file" in answer.reason


def removed_yesterday(tree, lee, now) -> None:
    trees.remove(
        tree,
        by=lee,
        now=now,
        today=now.date(),
        on=now.date() - timedelta(days=1),
        reason="Dead at the root.",
    )


@pytest.mark.parametrize("meanwhile", ["left", "renamed", "removed"])
def test_what_came_before_is_told_so_whatever_happened_meanwhile(
    tree, vera, lee, now, meanwhile
):
    entry = an_entry(vera, now)
    kept = send(entry, vera, now)
    if meanwhile == "left":
        Membership.objects.filter(user=vera).update(left_at=now)
    elif meanwhile == "renamed":
        Tree.objects.filter(pk=tree.pk).update(code="A-9")
    else:
        removed_yesterday(tree, lee, now)
    again = send(entry, vera, now)
    assert (again.answer, again.subject_id) == (Answer.ALREADY, kept.subject_id)
    other = an_entry(vera, now)
    assert send(other, vera, now).answer is Answer.REFUSED
    assert Inspection.objects.count() == Receipt.objects.count() == 1


def test_a_photo_sent_again_is_not_read_again(tree, vera, now, monkeypatch):
    photo = sent_photo(vera, now, file=a_photo(), tree="A-1")
    kept = send(photo, vera, now)

    def read_picture(file):
        raise AssertionError("It is here.")

    monkeypatch.setattr(photos, "read_picture", read_picture)
    again = send(photo, vera, now)
    assert (again.answer, again.subject_id) == (Answer.ALREADY, kept.subject_id)


def test_a_photo_waits_for_its_record_and_then_belongs_to_it(tree, vera, now):
    record = an_entry(vera, now)
    photo = an_entry(
        vera, now, kind=EntryKind.PHOTO, parent=record.key, file=a_photo(), form=()
    )
    assert send(photo, vera, now).answer is Answer.WAIT
    send(record, vera, now)
    photo.file.seek(0)
    assert send(photo, vera, now).answer is Answer.KEPT
    assert Photo.objects.get().inspections.get() == Inspection.objects.get()


def test_a_photo_without_a_word_comes_in_as_a_look_that_announces_it(tree, vera, now):
    said = (("units", "metric"), ("seen_day", "2026-05-11"))
    empty = an_entry(vera, now, form=said)
    refused = send(empty, vera, now)
    assert refused.answer is Answer.REFUSED
    assert "take a photo" in refused.reason
    assert not Inspection.objects.exists()
    record = an_entry(vera, now, key=empty.key, form=said, photos_follow=True)
    assert send(record, vera, now).answer is Answer.KEPT
    photo = sent_photo(vera, now, parent=record.key, file=a_photo())
    assert send(photo, vera, now).answer is Answer.KEPT
    kept = Inspection.objects.get()
    assert kept.photo_only
    assert list(kept.photos.all()) == [Photo.objects.get()]
    tree.refresh_from_db()
    assert tree.last_seen_on is None


DONE = (
    ("sign", "sucker"),
    ("sucker:graft", "below"),
    ("sucker:woody", "no"),
    ("sucker:done", "1"),
)


def test_work_done_at_the_tree_comes_in_closed_and_its_photo_proves_it(tree, vera, now):
    record = an_entry(vera, now, form=DONE)
    assert send(record, vera, now).notices == ()
    [closure] = Closure.objects.filter(task__kind="act")
    assert (closure.by, closure.done_on) == (vera, closure.inspection.seen_on)
    photo = sent_photo(vera, now, parent=record.key, sign="sucker", file=a_photo())
    send(photo, vera, now)
    assert list(closure.photos.all()) == list(Photo.objects.all()) != []


def test_one_picture_for_two_signs_belongs_to_both(tree, vera, now):
    record = an_entry(vera, now, form=(*DONE, ("sign", "weeds_ring")))
    send(record, vera, now)
    for sign in ("sucker", "weeds_ring"):
        photo = sent_photo(vera, now, parent=record.key, sign=sign, file=a_photo())
        assert send(photo, vera, now).notices == ()
    findings = Photo.objects.get().findings.order_by("sign")
    assert [finding.sign for finding in findings] == ["sucker", "weeds_ring"]


def test_a_phone_is_told_when_it_says_done_and_nothing_was_to_be_done(tree, vera, now):
    form = (("sign", "sucker"), ("sucker:done", "1"))
    notices = send(an_entry(vera, now, form=form), vera, now).notices
    assert "you said the work is done" in notices[0]


def test_a_photo_without_a_record_lands_in_the_tray(tree, vera, now):
    photo = sent_photo(vera, now, file=a_photo(), tree="")
    assert send(photo, vera, now).answer is Answer.KEPT
    assert Photo.objects.get().tree is None


def test_a_photo_without_a_record_may_bring_its_tree(tree, vera, now):
    photo = sent_photo(vera, now, file=a_photo(), tree="a-1")
    assert send(photo, vera, now).notices == ()
    assert Photo.objects.get().tree == tree


def test_a_photo_of_no_tree_that_is_here_waits_for_one(tree, vera, now):
    photo = sent_photo(vera, now, file=a_photo(), tree="Z-9")
    outcome = send(photo, vera, now)
    assert outcome.answer is Answer.KEPT
    assert "no tree Z-9 here" in outcome.notices[0]
    assert Photo.objects.get().tree is None


def sent_photo(vera, now, **fields):
    return an_entry(vera, now, kind=EntryKind.PHOTO, form=(), **fields)


def test_a_photo_stays_when_the_answer_to_the_commit_is_lost(
    tree, vera, now, monkeypatch
):
    real = transaction.atomic
    depth = []

    @contextmanager
    def cut(*args, **kwargs):
        depth.append(1)
        with real(*args, **kwargs):
            yield
        depth.pop()
        if not depth:
            raise OperationalError("the connection died after the commit")

    with monkeypatch.context() as dying:
        dying.setattr(transaction, "atomic", cut)
        with pytest.raises(OperationalError):
            send(sent_photo(vera, now, file=a_photo()), vera, now)
    photo = Photo.objects.get()
    for size in (*photos.SIZES, keeping.ORIGINAL):
        assert default_storage.exists(photos.path_of(photo.name, size)), size


def test_a_photo_that_the_book_did_not_take_leaves_no_file(
    tree, vera, now, monkeypatch, settings
):
    def torn(*args, **kwargs):
        raise OperationalError("the disk is full")

    monkeypatch.setattr(receiving, "_receipt", torn)
    with pytest.raises(OperationalError):
        send(sent_photo(vera, now, file=a_photo()), vera, now)
    assert not Photo.objects.exists()
    assert [one for one in settings.MEDIA_ROOT.rglob("*") if one.is_file()] == []


def test_one_picture_for_two_trees_is_told_to_who_sends_it(orchard, tree, vera, now):
    make_tree(orchard, "A-2")
    looks = [an_entry(vera, now, tree=code) for code in ("A-1", "A-2")]
    answers = []
    for entry in looks:
        send(entry, vera, now)
        photo = sent_photo(vera, now, parent=entry.key, file=a_photo())
        answers.append(send(photo, vera, now))
    assert [one.answer for one in answers] == [Answer.KEPT, Answer.KEPT]
    assert answers[0].notices == ()
    assert "with another record" in answers[1].notices[0]
    assert Photo.objects.get().tree.code == "A-1"


def test_minutes_on_a_weak_line_are_no_fault_of_the_clock(tree, vera, now):
    record = an_entry(vera, now)
    send(record, vera, now)
    taken, five = now - timedelta(minutes=40), timedelta(minutes=5)
    photo = sent_photo(
        vera, now, parent=record.key, file=a_photo(), taken_at=taken, sent_at=now
    )
    send(photo, vera, now + five)
    assert Photo.objects.get().taken_at == taken


def test_the_cameras_own_moment_counts_where_the_phone_cannot_read_it(tree, vera, now):
    photo = sent_photo(vera, now, file=heic(), taken_at=now - timedelta(minutes=1))
    send(photo, vera, now)
    assert Photo.objects.get().taken_at == datetime(2026, 5, 11, 15, 20, 5, tzinfo=UTC)


def test_too_much_at_once_waits_and_costs_nothing(tree, vera, now, monkeypatch):
    monkeypatch.setattr(receiving, "MOST_IN_A_MINUTE", 2)
    entries = [an_entry(vera, now) for _ in range(3)]
    answers = [send(entry, vera, now).answer for entry in entries]
    assert answers == [Answer.KEPT, Answer.KEPT, Answer.WAIT]
    # What comes again and again counts as well.
    assert send(entries[0], vera, now).answer is Answer.WAIT
    later = now + timedelta(minutes=2)
    assert send(entries[2], vera, later).answer is Answer.KEPT


def test_too_much_of_one_person_keeps_nobody_else_waiting(
    tree, vera, lee, now, monkeypatch
):
    monkeypatch.setattr(receiving, "MOST_IN_A_MINUTE", 1)
    answers = [send(an_entry(vera, now), vera, now).answer for _ in range(2)]
    assert answers == [Answer.KEPT, Answer.WAIT]
    assert send(an_entry(lee, now), lee, now).answer is Answer.KEPT


def test_a_look_from_before_the_tree_was_removed_still_comes_in(tree, vera, lee, now):
    entry = an_entry(vera, now - timedelta(days=2), sent_at=now)
    removed_yesterday(tree, lee, now)
    assert send(entry, vera, now).answer is Answer.KEPT
    late = an_entry(vera, now)
    answer = send(late, vera, now)
    assert answer.answer is Answer.REFUSED
    assert "A-1" in answer.reason
