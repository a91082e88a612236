"""Deeds done without signal come in once, and whoever comes too late is told."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from orchard.records.models import Change, Closure, Membership, Photo, Receipt, Task
from orchard.services import tasks
from orchard.services.inbox import Answer, Entry, EntryKind
from orchard.web.pages.inbox.views import receive
from tests.services.photos.test_photos import file as a_photo
from tests.services.tasks.test_tasks import make_task


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
    said = (("how", "done"), ("done-done_on", today.isoformat()), *form)
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
    assert send(entry, vera, now).answer is Answer.ALREADY
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
    assert "not in the book" in outcome.reason
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
